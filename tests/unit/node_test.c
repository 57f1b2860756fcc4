#include <criterion/criterion.h>
#include <stdio.h>
#include <string.h>

#include "cases/node.h"
#include "solver/base/memory.h"

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
