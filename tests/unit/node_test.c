#include <criterion/criterion.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "cases/node.h"
#include "solver/base/memory.h"
#include "tests/support/random.h"

/* One refusal: the text, the place (line 0: the file as a whole) and words of the first message. */
struct refusal {
    const char *text;
    int line, column;
    const char *message;
};

static void refuse_text(const struct refusal *row)
{
    struct tree tree;
    struct errors errors = {0};
    enum status status = tree_parse("a.yaml", row->text, strlen(row->text), &tree, &errors);
    const struct error *first = &errors.kept[0];
    cr_assert_eq(status, STATUS_INPUT, "not refused: %s", row->text);
    cr_assert_null(tree.root);
    cr_assert_gt(errors.count, 0);
    cr_expect(first->line == row->line && first->column == row->column, "%s: place %d:%d, wanted %d:%d (%s)",
              row->text, first->line, first->column, row->line, row->column, first->text);
    cr_expect(strstr(first->text, row->message), "%s: \"%s\" lacks \"%s\"", row->text, first->text,
              row->message);
    cr_expect_str_eq(first->file, "a.yaml");
    cr_expect(strstr(first->text, "did not find") == NULL && strstr(first->text, "while ") == NULL);
    cr_expect_eq(first->status, STATUS_INPUT);
}

static const struct refusal refusals[] = {
    /* colons */
    {"shell: {material: abs}\nsize:J\nx: 1\n", 2, 5, "missing after the colon: write size: J"},
    {"h:\n  size:J\n  set: x\n", 2, 7, "missing after the colon: write size: J;"},
    {"h:\n  set: x\n  size:J\n", 3, 7, "missing after the colon: write size: J"},
    {"h: {size:J}\n", 1, 9, "missing after the colon: write size: J"},
    {"h: {set: en-960, size:J}\n", 1, 22, "missing after the colon: write size: J"},
    {"h: size:J\n", 1, 8, "missing after the colon: write size: J"},
    {"size:J\n", 1, 5, "missing after the colon: write size: J"},
    {"h: {size J}\n", 1, 5, "a colon is missing: write size: J"},
    {"a: x\ny z\nc: 1\n", 2, 1, "a colon is missing"},
    {"title: one: two\n", 1, 8, "a colon and a space must be quoted: write \"one: two\""},
    {"title: \xc3\xa4\xc3\xb6: two\n", 1, 8, "a colon and a space must be quoted"},
    {"a: b:\n", 1, 4, "must be quoted: write \"b:\""},
    {": x\n", 1, 1, "a key is missing before the colon"},
    {"a: {: x}\n", 1, 5, "a key is missing before the colon"},
    /* commas */
    {"l: {density: 45,5 kg/m3}\n", 1, 14, "not a comma: write 45.5 kg/m3"},
    {"l: {share: 40,5, b: 1}\n", 1, 12, "not a comma: write 40.5"},
    {"l: [45,5 kg/m3, 7 kg/m3]\n", 1, 5, "not a comma: write 45.5 kg/m3"},
    {"a: [1,]\n", 1, 7, "comma before this bracket is one too many"},
    {"a: {x: 1, # why\n  }\n", 2, 3, "comma before this bracket is one too many"},
    {"a: {size: J},\nb: 1\n", 1, 13, "this comma is one too many"},
    {"a: 4 mm,\nb: 1\n", 1, 9, "the comma at the end is one too many"},
    {"a: [1,,2]\n", 1, 7, "nothing stands before this comma"},
    {"a: {b: 1 c: 2}\n", 1, 11, "a comma is missing before this"},
    {"a: {b: \"x\" y: 2}\n", 1, 12, "a comma is missing before this"},
    {"a: [P\n  B]\n", 1, 5, "a comma or a closing bracket is missing"},
    /* brackets and quotes */
    {"a: [\"1\", 2\n", 1, 4, "this [ is not closed"},
    {"a: [\n", 1, 4, "this [ is not closed"},
    {"b: {x: [1,", 1, 8, "this [ is not closed"},
    {"b: {x: [1], \n\n", 1, 4, "this { is not closed"},
    {"a: {x: 1, y: \"2\"\nb: 3\n", 1, 4, "this { is not closed"},
    {"a: [b}\n", 1, 6, "this } does not match the [ of line 1, column 4"},
    {"a: ]\n", 1, 4, "this ] closes nothing"},
    {"a: {b: 1}\n}\n", 2, 1, "this } closes nothing"},
    {"{a: b}}\n", 1, 7, "this } closes nothing"},
    {"a: \"abc\nb: 3\n", 1, 4, "this quote is not closed"},
    {"a: 'abc\n---\n'\n", 1, 4, "this quote is not closed"},
    {"title: \"abc\" def\n", 1, 14, "after the closing quote"},
    {"a: [b] c\n", 1, 8, "nothing can follow the closing bracket"},
    {"a: \"\\q\"\n", 1, 5, "unknown escape"},
    {"a: \"\\xg\"\n", 1, 7, "unknown escape"},
    /* special characters */
    {"title: @foo\n", 1, 8, "starts with @ must be quoted: write \"@foo\""},
    {"title: `foo\n", 1, 8, "starts with ` must be quoted"},
    {"title: %foo\n", 1, 8, "starts with % must be quoted"},
    {"title: *foo\n", 1, 8, "aliases (*) are not read"},
    {"title: &foo bar\n", 1, 8, "anchors (&) are not read"},
    {"title: !foo bar\n", 1, 8, "tags (!) are not read"},
    {"title: !e!foo bar\n", 1, 8, "starts with ! must be quoted"},
    {"title: !!str bar\n", 1, 8, "tags (!) are not read"},
    {"a: &x {b: 1}\n", 1, 4, "anchors (&) are not read"},
    {"a: !x [1]\n", 1, 4, "tags (!) are not read"},
    {"a: &\n", 1, 4, "starts with & must be quoted"},
    {"title: >foo\n", 1, 8, "starts with > must be quoted"},
    {"title: |foo\n", 1, 8, "starts with | must be quoted"},
    {"title: ? x\n", 1, 8, "starts with ? must be quoted"},
    {"title: ,x\n", 1, 8, "starts with , must be quoted"},
    {"title: Liner #3\n", 1, 14, "\" #\" is a comment: quote the text"},
    {"%YAML 1.1\n---\na: 1\n", 1, 1, "starts with % is not read"},
    {"%FOO\n---\na: 1\n", 1, 1, "starts with % is not read"},
    {"<<: {a: b}\n", 1, 1, "merge keys (<<) are not read"},
    {"\"\": x\n", 1, 1, "a key is missing before the colon"},
    /* dashes */
    {"l:\n  - {a: P}\n  {a: B}\n", 3, 3, "a dash is missing: write - {a: B}"},
    {"l:\n  - a\n  b\n", 3, 3, "a dash is missing: write - b"},
    {"l:\n  - a: 1\n  b: 2\n", 3, 3, "a dash is missing: every item of the list that starts in line 2"},
    {"l:\n  -b\n  -c\n", 2, 3, "a space is missing after the dash: write - b"},
    {"l:\n  - a: 1\n  -{a: 2}\n", 3, 3, "a space is missing after the dash: write - {a: 2}"},
    {"a: - b\n", 1, 4, "a list cannot start behind a key"},
    {"a: 1\n- b\n", 2, 1, "a list item stands where a key is wanted"},
    /* indentation */
    {"a:\n\tb: 1\n", 2, 1, "a tab"},
    {"a:\n  b: 1\n\tc: 2\n", 3, 1, "a tab cannot indent"},
    {"a: 1\n  b: 2\n", 2, 3, "indented below line 1, which already has a value"},
    {"a:\n    b: 1\n  c: 2\n", 3, 3, "the indentation fits no line above"},
    {"a: |\n  text\n b\n", 3, 2, "the indentation fits no line above"},
    /* keys and values */
    {"a: 1\nb: 2\na: 3\n", 3, 1, "a stands twice, in line 1 and in line 3"},
    {"a: {b: 1, c: 2, \"b\": 3}\n", 1, 17, "b stands twice, in line 1 and in line 1"},
    {"[a]: b\n", 1, 1, "a key is a word"},
    {"{a: b}: c\n", 1, 1, "a key is a word"},
    {"a:\nb: 2\n", 1, 1, "a has no value"},
    {"a: {b: x, drop}\n", 1, 11, "drop has no value"},
    {"a:\n  - x\n  -\n", 3, 4, "this item is empty"},
    {"- a\n- b\n", 1, 1, "keys are wanted here"},
    {"just text\n", 1, 1, "keys are wanted here"},
    /* documents and characters */
    {"a: x\n---\nb: y\n", 2, 1, "a second document starts here"},
    {"a: 1\n...\nb: 2\n", 3, 1, "nothing can follow here"},
    {"", 0, 0, "nothing is written here"},
    {"# only a comment\n", 0, 0, "nothing is written here"},
    {"---\n", 0, 0, "nothing is written here"},
    {"a: b\nc: \xc3\xa4\xff\n", 2, 5, "byte 0xFF is not UTF-8"},
    {"c: 45 kg/m\xb3\r\n", 1, 11, "byte 0xB3 is not UTF-8"},
    {"a: 1\r\nb: 2\rc: \xff\n", 3, 4, "byte 0xFF is not UTF-8"},
    {"c: \xed\xa0\x80\n", 1, 4, "byte 0xED is not UTF-8"},
    {"c: \xc0\x80\n", 1, 4, "byte 0xC0 is not UTF-8"},
    {"c: \x1b[31m\n", 1, 4, "invisible character U+001B"},
    {"c: a\xe2\x80\xa8"
     "b\n",
     1, 5, "invisible character U+2028"},
    {"c: \xef\xbb\xbf\n", 1, 4, "invisible character U+FEFF"},
    {"a: \"x\\ey\"\n", 1, 4, "control character U+001B"},
    {"a: \"x\\0y\"\n", 1, 4, "the character U+0000"},
    {"a: \"x\\Ny\"\n", 1, 4, "control character U+0085"},
    {"\x89HDF\r\n\x1a\n......", 0, 0, "this is an HDF5 file"},
    {"\xff\xfe"
     "abc",
     0, 0, "the file is UTF-16"},
    {"\x01\x02\x03\x04 \x05\x06", 0, 0, "not a text file"},
};

Test(node, refusals)
{
    for (size_t i = 0; i < sizeof refusals / sizeof *refusals; i++)
        refuse_text(&refusals[i]);
}

/* --- places --- */

static void parse_whole(const char *text, struct tree *tree)
{
    struct errors errors = {0};
    enum status status = tree_parse("a.yaml", text, strlen(text), tree, &errors);
    cr_assert_eq(status, STATUS_OK, "%s: %d:%d: %s", text, errors.kept[0].line, errors.kept[0].column,
                 errors.kept[0].text);
}

/* Columns count characters, not bytes; CRLF and a byte order mark change nothing. */
Test(node, places)
{
    struct tree tree;
    parse_whole("\xef\xbb\xbf"
                "title: \xc3\xa4\xc3\xb6\r\nh: {\xc3\xa4: \"\xe2\x82\xac\", size: J}\r\n",
                &tree);
    const struct node *title = node_get(tree.root, "title"), *h = node_get(tree.root, "h");
    cr_assert_eq(title->line, 1);
    cr_assert_eq(title->column, 8);
    cr_assert_eq(h->line, 2);
    cr_assert_eq(h->column, 4);
    cr_assert_eq(h->keys[1]->column, 13);
    cr_assert_eq(h->items[1]->column, 19);
    cr_assert_eq(h->items[0]->quoted, 1);
    cr_assert_eq(h->items[1]->quoted, 0);
    cr_assert_str_eq(h->items[1]->text, "J");
    cr_assert_null(node_get(h, "set"));
    cr_assert_null(node_get(title, "size"));
    tree_free(&tree);
}

Test(node, message_shows_line)
{
    struct tree tree;
    struct errors errors = {0};
    parse_whole("a: 1\nshell: {thickness: 3 kg}  # '\n", &tree);
    const struct node *thickness = node_get(node_get(tree.root, "shell"), "thickness");
    enum status status = node_error(&tree, thickness, &errors, "%s is wrong", thickness->text);
    cr_assert_eq(status, STATUS_INPUT);
    cr_assert_eq(errors.count, 1);
    cr_assert_str_eq(errors.kept[0].file, "a.yaml");
    cr_assert_str_eq(errors.kept[0].text, "3 kg is wrong");
    cr_assert_str_eq(errors.kept[0].source, "shell: {thickness: 3 kg}  # '");
    cr_assert_str_eq(errors.kept[0].included, "");
    cr_assert_eq(errors.kept[0].line, 2);
    cr_assert_eq(errors.kept[0].column, 20);
    tree_free(&tree);
}

/* All slips of a file come at once, up to ten, then they are counted. */
Test(node, ten_messages_then_the_count)
{
    char text[512] = "";
    struct tree tree;
    struct errors errors = {0};
    for (int i = 0; i < 14; i++)
        sprintf(text + strlen(text), "k%d: !t %d\n", i, i);
    cr_assert_eq(tree_parse("a.yaml", text, strlen(text), &tree, &errors), STATUS_INPUT);
    cr_assert_eq(errors.count, 14);
    for (int i = 0; i < ERRORS_KEPT; i++)
        cr_assert_eq(errors.kept[i].line, i + 1);
}

/* What looks like a slip and is none. */
Test(node, accepted)
{
    static const char *texts[] = {
        "title: see http://example.org/a\n",
        "file: ./a:b.csv\n",
        "title: C:\\data\n",
        "a: 3 mm  #comment\n",
        "a: 3 mm # comment\n",
        "a: \"Liner #3\"\n",
        "a: 'one: two'\n",
        "a: [1,2,3]\n",
        "a: [7.0,5.0]\n",
        "a: [45,5]\n",
        "a: [-1, -.5, -inf]\n",
        "a: [-20 deg, 5 deg]\n",
        "a: {b: 1, c: 2} # }\n",
        "notes: free text\n  that goes on\n",
        "notes: |\n  free: text, # and\n  more,\n",
        "a: \"x,\"\n",
        "---\na: 1\n...\n",
        "a: [] \nb: {}\n",
        "a: [ # first, second\n 1 ]\n",
        "a: [1 # first, second\n ]\n",
        "a: [45, 5 kg]\n",
        "a: 3 mm\t#comment\n",
    };
    for (size_t i = 0; i < sizeof texts / sizeof *texts; i++) {
        struct tree tree;
        parse_whole(texts[i], &tree);
        tree_free(&tree);
    }
}

/* --- limits --- */

/* Of the processor, so that a loaded machine does not count. */
static double seconds_now(void)
{
    return (double)clock() / CLOCKS_PER_SEC;
}

/* Text of `prefix`, then `unit` repeated up to `length` bytes. */
static char *repeat(const char *prefix, const char *unit, size_t length)
{
    char *text = malloc(length + strlen(prefix) + strlen(unit) + 1);
    size_t at = (size_t)sprintf(text, "%s", prefix);
    while (at < length) {
        strcpy(text + at, unit);
        at += strlen(unit);
    }
    return text;
}

/* Hostile files of 10 MB and of just under 1 MiB end at once; the bound of 2 s is for the sanitizers on a
 * busy machine (a quadratic reader needs minutes). */
Test(node, hostile_files_end_soon)
{
    static const char *units[] = {"[",    "{",        "- ",    "? ",     "a: ",   "[a, ", "{a: ",  "\"",
                                  "&a ",  "*a ",      "!a ",   "k: v\n", "- a\n", ",",    "a,",    "[],",
                                  "{}, ", "\n",       " ",     "#\n",    "a ",    "'",    "\"\\n", "a: b, ",
                                  "|\n ", "<<: *a\n", "---\n", "%a\n",   "\t",    "]",    "a\n",   "-\n"};
    for (size_t i = 0; i < 3 * sizeof units / sizeof *units; i++) {
        const char *prefix = i % 3 == 0 ? "" : i % 3 == 1 ? "x: [" : "x: {";
        for (int large = 0; large < (i < 3 ? 2 : 1); large++) {
            char *text = repeat(prefix, units[i / 3], large ? 10000000 : NODE_TEXT_LIMIT - 20);
            struct tree tree;
            struct errors errors = {0};
            double start = seconds_now();
            enum status status = tree_parse("a.yaml", text, strlen(text), &tree, &errors);
            double taken = seconds_now() - start;
            cr_expect_eq(status, STATUS_INPUT, "%s%s: accepted", prefix, units[i / 3]);
            cr_expect_lt(taken, 2, "%s%s... takes %g s", prefix, units[i / 3], taken);
            cr_expect(!large || strstr(errors.kept[0].text, "larger than 1 MiB"));
            tree_free(&tree);
            free(text);
        }
    }
}

static void parse_levels(int levels, enum status wanted, const char *message)
{
    char text[200] = "a: ";
    struct tree tree;
    struct errors errors = {0};
    for (int i = 1; i < levels; i++)
        strcat(text, "[");
    strcat(text, "x");
    for (int i = 1; i < levels; i++)
        strcat(text, "]");
    cr_assert_eq(tree_parse("a.yaml", text, strlen(text), &tree, &errors), wanted);
    cr_assert_str_eq(errors.kept[0].text, message);
    cr_assert(wanted == STATUS_OK || errors.kept[0].column == 3 + NODE_DEPTH);
    tree_free(&tree);
}

Test(node, depth)
{
    parse_levels(NODE_DEPTH, STATUS_OK, "");
    parse_levels(NODE_DEPTH + 1, STATUS_INPUT, "more than 32 levels of lists and mappings");
}

static void parse_entries(size_t items, enum status wanted)
{
    char *text = repeat("a: [", "1,", 4 + 2 * items);
    struct tree tree;
    struct errors errors = {0};
    text[3 + 2 * items] = ']';
    cr_assert_eq(tree_parse("a.yaml", text, strlen(text), &tree, &errors), wanted, "%s", errors.kept[0].text);
    cr_assert(wanted == STATUS_OK || strstr(errors.kept[0].text, "more than 100000 entries"));
    tree_free(&tree);
    free(text);
}

/* The root, the key and the list count too. */
Test(node, entries)
{
    parse_entries(NODE_LIMIT - 3, STATUS_OK);
    parse_entries(NODE_LIMIT - 2, STATUS_INPUT);
}

/* Every key counts, and a hundred thousand of them are compared in no time. */
Test(node, pairs)
{
    char *text = malloc(NODE_LIMIT * 12), *at = text;
    struct tree tree;
    struct errors errors = {0};
    for (int i = 0; i < NODE_LIMIT / 2; i++)
        at += sprintf(at, "k%d: 1\n", i);
    cr_assert_eq(tree_parse("a.yaml", text, strlen(text), &tree, &errors), STATUS_INPUT);
    cr_assert(strstr(errors.kept[0].text, "more than 100000 entries"));
    cr_assert_eq(errors.kept[0].line, NODE_LIMIT / 2);
    *strrchr(text, 'k') = '\0';
    parse_whole(text, &tree);
    cr_assert_eq(tree.root->count, NODE_LIMIT / 2 - 1);
    tree_free(&tree);
    free(text);
}

/* One slip, one message, although libyaml stumbles over it again. */
Test(node, a_slip_is_told_once)
{
    static const char *texts[] = {"h:\n  size:J\n  set: x\n", "a: [1, 2\nb: 3\n"};
    for (size_t i = 0; i < sizeof texts / sizeof *texts; i++) {
        struct tree tree;
        struct errors errors = {0};
        cr_assert_eq(tree_parse("a.yaml", texts[i], strlen(texts[i]), &tree, &errors), STATUS_INPUT);
        cr_assert_eq(errors.count, 1, "%s: %zu messages", texts[i], errors.count);
    }
}

Test(node, key_length)
{
    char text[NODE_KEY_LENGTH + 8];
    struct tree tree;
    struct errors errors = {0};
    memset(text, 'k', sizeof text);
    strcpy(text + NODE_KEY_LENGTH, ": 1\n");
    parse_whole(text, &tree);
    tree_free(&tree);
    strcpy(text + NODE_KEY_LENGTH, "k: 1\n");
    cr_assert_eq(tree_parse("a.yaml", text, strlen(text), &tree, &errors), STATUS_INPUT);
    cr_assert(strstr(errors.kept[0].text, "a key is one line of at most 256 bytes"));
}

/* --- text and back --- */

static int nodes_equal(const struct node *a, const struct node *b)
{
    if (a->kind != b->kind || a->count != b->count || a->quoted != b->quoted)
        return 0;
    if (a->kind == NODE_SCALAR)
        return strcmp(a->text, b->text) == 0;
    for (size_t i = 0; i < a->count; i++) {
        if (!nodes_equal(a->items[i], b->items[i]))
            return 0;
        if (a->keys && !nodes_equal(a->keys[i], b->keys[i]))
            return 0;
    }
    return 1;
}

/* The text of a tree gives the same tree, and that tree the same text. */
static void assert_round_trip(const struct tree *tree)
{
    char *text = tree_text(tree);
    struct tree again;
    struct errors errors = {0};
    enum status status = tree_parse("again.yaml", text, strlen(text), &again, &errors);
    cr_assert_eq(status, STATUS_OK, "%d:%d: %s\n%s", errors.kept[0].line, errors.kept[0].column,
                 errors.kept[0].text, text);
    cr_assert(nodes_equal(tree->root, again.root), "another tree from:\n%s", text);
    cr_assert_eq(tree_text_length(tree), strlen(text));
    char *second = tree_text(&again);
    cr_assert_str_eq(text, second);
    memory_free(text);
    memory_free(second);
    tree_free(&again);
}

Test(node, text)
{
    struct tree tree;
    parse_whole("title: \"a \\\"b\\\" \\\\ c\\n\\td\"\nh: {set: en-960, size: J}\nl: [1, [2, []], {a: b, c: "
                "[d]}, {}]\n"
                "notes: >\n  folded\n  text\n'odd: key': x\n",
                &tree);
    char *text = tree_text(&tree);
    cr_assert_str_eq(
        text, "title: \"a \\\"b\\\" \\\\ c\\n\\td\"\nh:\n  set: en-960\n  size: J\nl:\n  - 1\n  - - 2\n"
              "    - []\n  - a: b\n    c:\n      - d\n  - {}\nnotes: \"folded text\\n\"\n\"odd: key\": x\n");
    assert_round_trip(&tree);
    memory_free(text);
    tree_free(&tree);
}

static struct random chance;

static struct node *random_scalar(void)
{
    static const char *plain[] = {"35 mm", "-20 degC", "J",     "un-r22.06", "1e3",  "x y z",
                                  "a#b",   "10 %",     ".5",    "true",      "a, b", "[x",
                                  "-.5",   "q}",       "a:b c", "\xc3\xa4"};
    static const char *pieces[] = {"a", "\"", "\\", "\n", "\t", ": ", " #", "\xe2\x82\xac",
                                   "'", "- ", "{",  " ",  ","};
    char text[64] = "";
    int quoted = random_below(&chance, 2) == 0;
    if (quoted) {
        for (unsigned i = (unsigned)random_below(&chance, 9); i > 0; i--)
            strcat(text, pieces[random_below(&chance, sizeof pieces / sizeof *pieces)]);
    } else {
        /* "[x" and "a:b c" are plain only behind something */
        const char *choice = plain[random_below(&chance, sizeof plain / sizeof *plain)];
        sprintf(text, "%s%s", choice[0] == '[' || choice[1] == ':' ? "X " : "", choice);
    }
    struct node *node = node_create(NODE_SCALAR, 0, 1, 1, text);
    node->quoted = quoted;
    return node;
}

static struct node *random_node(int depth)
{
    unsigned kind = (unsigned)random_below(&chance, depth > 0 ? 4 : 2);
    if (kind < 2)
        return random_scalar();
    struct node *node = node_create(kind == 2 ? NODE_MAPPING : NODE_SEQUENCE, 0, 1, 1, NULL);
    for (unsigned i = (unsigned)random_below(&chance, 5); i > 0; i--) {
        char name[32];
        sprintf(name, "%s%u", random_below(&chance, 4) ? "key " : "\"odd\": ", i);
        struct node *key = kind == 2 ? node_create(NODE_SCALAR, 0, 1, 1, name) : NULL;
        if (key)
            key->quoted = name[0] == '"';
        node_append(node, key, random_node(depth - 1));
    }
    return node;
}

Test(node, random_round_trip)
{
    chance = random_begin();
    for (int i = 0; i < 2000; i++) {
        char file_name[] = "random";
        struct source_file file = {.name = file_name};
        struct tree tree = {.file_count = 1, .files = &file};
        tree.root = node_create(NODE_MAPPING, 0, 1, 1, NULL);
        for (unsigned k = 1 + (unsigned)random_below(&chance, 4); k > 0; k--) {
            char name[16];
            sprintf(name, "top%u", k);
            node_append(tree.root, node_create(NODE_SCALAR, 0, 1, 1, name), random_node(6));
        }
        assert_round_trip(&tree);
        struct node *copy = node_copy(tree.root);
        cr_assert(nodes_equal(copy, tree.root));
        node_free(copy);
        node_free(tree.root);
    }
}

static const char whole_case[] =
    "title: \"Two-density touring liner\"\n"
    "headform: {set: en-960, size: J}\n"
    "shell:\n"
    "  material: glass-epoxy   # or another\n"
    "  thickness: 2.8 mm\n"
    "liner:\n"
    "  foam: eps\n"
    "  regions:\n"
    "    - {name: opening, elevation: [-40 deg, 5 deg], open: true}\n"
    "    - name: crown\n"
    "      centre: [90 deg, 0 deg]\n"
    "      layers:\n"
    "        - {density: 45 kg/m3, thickness: 18 mm}\n"
    "        - {density: 30 kg/m\xc2\xb3, thickness: 17 mm, voids: 10 %}\n"
    "impacts: [{at: P, anvil: flat, speed: 7.5 m/s}, {at: B, hits: [7.0 m/s, 5.0 m/s]}]\n"
    "notes: |\n"
    "  one, two: three\n"
    "  'four'\n";

/* One to four random changes of a case: a byte replaced, dropped or put in, a line doubled, the end cut. */
static size_t mutate(char *text, size_t length)
{
    static const char strange[] = ":-,#{}[]\"'&*!|>%@` \t\n\r?\\\x00\x01\xc3\xff~0eJ";
    for (unsigned changes = 1 + (unsigned)random_below(&chance, 4); changes > 0 && length > 0; changes--) {
        size_t at = random_below(&chance, length);
        switch (random_below(&chance, 4)) {
        case 0:
            text[at] = strange[random_below(&chance, sizeof strange)];
            break;
        case 1:
            memmove(text + at, text + at + 1, length-- - at - 1);
            break;
        case 2:
            memmove(text + at + 1, text + at, length++ - at);
            text[at] = strange[random_below(&chance, sizeof strange)];
            break;
        default:
            length = random_below(&chance, 8) ? length : at;
        }
    }
    return length;
}

/* Whatever is done to a case, it is read or refused, never both, and what is read survives being written. */
Test(node, random_mutations)
{
    int read = 0, refused = 0;
    chance = random_begin();
    for (int i = 0; i < 4000; i++) {
        char text[2 * sizeof whole_case];
        struct tree tree;
        struct errors errors = {0};
        memcpy(text, whole_case, sizeof whole_case);
        size_t length = mutate(text, sizeof whole_case - 1);
        enum status status = tree_parse("a.yaml", text, length, &tree, &errors);
        cr_assert(status == STATUS_OK ? errors.count == 0 : errors.count > 0 && tree.root == NULL);
        for (size_t k = 0; k < errors.count && k < ERRORS_KEPT; k++)
            cr_assert(strlen(errors.kept[k].text) > 10);
        if (status == STATUS_OK)
            assert_round_trip(&tree);
        read += status == STATUS_OK;
        refused += status != STATUS_OK;
        tree_free(&tree);
    }
    cr_assert_gt(read, 400);
    cr_assert_gt(refused, 400);
}

/* Every allocation fails once: no leak (the address sanitizer tells), no crash, the right status. */
Test(node, memory_out)
{
    size_t failures = 0, before;
    enum status status;
    do {
        struct tree tree;
        struct errors errors = {0};
        before = memory_failures();
        memory_fail_after(failures++);
        status = tree_parse("a.yaml", whole_case, sizeof whole_case - 1, &tree, &errors);
        if (status == STATUS_OK && memory_failures() == before) {
            char *text;
            for (size_t i = 0; i < 2; i++) {
                memory_fail_after(i == 0 ? 0 : SIZE_MAX);
                text = tree_text(&tree);
                cr_assert_eq(text == NULL, i == 0);
                memory_free(text);
            }
        } else {
            cr_assert_eq(status, STATUS_MEMORY);
            cr_assert_eq(errors.kept[errors.count - 1].status, STATUS_MEMORY);
            cr_assert_null(tree.root);
        }
        tree_free(&tree);
    } while (memory_failures() > before && failures < 10000);
    memory_fail_after(SIZE_MAX);
    cr_assert_gt(failures, 100);
    cr_assert_eq(status, STATUS_OK);
}
