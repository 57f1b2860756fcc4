#include "cases/reader.h"

#include <ctype.h>
#include <stdlib.h>
#include <string.h>
#include <yaml.h>

#include "cases/explain.h"
#include "solver/base/memory.h"
#include "solver/base/text.h"

/*
 * Events, not documents: libyaml's document reader is quadratic in depth and hides where an alias stands. One
 * event is held at a time. Between two events lie only spaces, comments and the marks , : - ? of the grammar:
 * that gap shows what libyaml accepts and people do not mean, such as a comma before a closing bracket.
 */
struct reader {
    yaml_parser_t parser;
    yaml_event_t event;
    int has_event;
    const struct tree *tree;
    int file;
    const char *content;
    size_t length;
    struct errors *errors;
    enum status status;
    size_t *nodes;
    int depth, flow;
    yaml_mark_t open; /* of the innermost bracket, while flow > 0 */
    /* libyaml counts characters, the content is bytes: a cursor that only moves forward */
    size_t character, byte;
    const char *gap;
    size_t gap_length;
    int slip_line;   /* line of the last slip in a plain text: the syntax error it causes is not told again */
    int after_plain; /* the event before this one was a plain scalar with text */
};

static int at_line(yaml_mark_t mark)
{
    return (int)mark.line + 1;
}

static int at_column(yaml_mark_t mark)
{
    return (int)mark.column + 1;
}

static void fail(struct reader *reader, enum status status)
{
    reader->status = status_worse(reader->status, status);
}

/* A message at a mark of libyaml, after which reading goes on. */
#define COMPLAIN(reader, mark, ...)                                                                          \
    fail(reader, tree_error((reader)->tree, (reader)->file, at_line(mark), at_column(mark),                  \
                            (reader)->errors, __VA_ARGS__))

#define COMPLAIN_NODE(reader, node, ...)                                                                     \
    fail(reader, node_error((reader)->tree, node, (reader)->errors, __VA_ARGS__))

/* --- characters, before libyaml sees any --- */

static int looks_binary(const char *content, size_t length)
{
    size_t strange = 0;
    for (size_t i = 0; i < length; i++)
        strange += (unsigned char)content[i] < 0x20 && !memchr("\t\n\r\f\x1b", content[i], 5);
    return strange > length / 16;
}

static int is_utf16(const char *content, size_t length)
{
    return length >= 2 && (memcmp(content, "\xff\xfe", 2) == 0 || memcmp(content, "\xfe\xff", 2) == 0);
}

static enum status refuse_binary(struct reader *reader, const char *content, size_t length)
{
    static const char result[] = "\x89HDF\r\n\x1a\n";
    const size_t after_header = 512;
    int is_result = 0;
    for (size_t at = 0; at <= after_header && at + 8 <= length; at += after_header)
        is_result |= memcmp(content + at, result, 8) == 0;
    if (is_result)
        return tree_error(reader->tree, reader->file, 0, 0, reader->errors,
                          "this is an HDF5 file, not a case: `foampulse show` reads results");
    if (is_utf16(content, length))
        return tree_error(reader->tree, reader->file, 0, 0, reader->errors,
                          "the file is UTF-16: save it as UTF-8");
    return tree_error(reader->tree, reader->file, 0, 0, reader->errors,
                      "this is not a text file; a case is YAML text in UTF-8");
}

static enum status refuse_character(struct reader *reader, const char *content, size_t at, size_t length)
{
    int line = 1, column = 1;
    unsigned code = 0;
    for (size_t i = 0; i < at; i++) {
        int ends = content[i] == '\n' || (content[i] == '\r' && content[i + 1] != '\n');
        column = ends ? 1 : column + (((unsigned char)content[i] & 0xc0) != 0x80);
        line += ends;
    }
    if (text_decode(content + at, length - at, &code))
        return tree_error(reader->tree, reader->file, line, column, reader->errors,
                          "the invisible character U+%04X cannot stand here: remove it", code);
    return tree_error(reader->tree, reader->file, line, column, reader->errors,
                      "byte 0x%02X is not UTF-8: save the file as UTF-8",
                      (unsigned)(unsigned char)content[at]);
}

/* Refuses what is not plain UTF-8 text; then libyaml's own reader has nothing to complain about. */
static enum status check_characters(struct reader *reader, const char *content, size_t length)
{
    size_t step;
    if (is_utf16(content, length) || looks_binary(content, length))
        return refuse_binary(reader, content, length);
    for (size_t i = 0; i < length; i += step) {
        unsigned code;
        step = text_decode(content + i, length - i, &code);
        int is_break = code == '\t' || code == '\n' || code == '\r';
        if (step == 0 || code == 0xfeff || code == 0xfffe || code == 0xffff ||
            (text_is_control(code) && !is_break))
            return refuse_character(reader, content, i, length);
    }
    return STATUS_OK;
}

/* --- events --- */

static void cursor_move(struct reader *reader, size_t character)
{
    while (reader->character < character && reader->byte < reader->length) {
        do
            reader->byte++;
        while (reader->byte < reader->length &&
               ((unsigned char)reader->content[reader->byte] & 0xc0) == 0x80);
        reader->character++;
    }
}

static void refuse_syntax(struct reader *reader)
{
    const yaml_parser_t *parser = &reader->parser;
    if (parser->error == YAML_MEMORY_ERROR) {
        fail(reader, STATUS_MEMORY);
        return;
    }
    struct trouble trouble = {
        .problem = parser->problem,
        .context = parser->context,
        .line = at_line(parser->problem_mark),
        .column = at_column(parser->problem_mark),
        .context_line = parser->context ? at_line(parser->context_mark) : 0,
        .context_column = parser->context ? at_column(parser->context_mark) : 0,
        .open_line = reader->flow > 0 ? at_line(reader->open) : 0,
        .open_column = reader->flow > 0 ? at_column(reader->open) : 0,
    };
    struct explanation explanation;
    explain_trouble(reader->content, reader->length, &trouble, &explanation);
    if (explanation.line != reader->slip_line)
        fail(reader, tree_error(reader->tree, reader->file, explanation.line, explanation.column,
                                reader->errors, "%s", explanation.text));
}

/* A `#` one space behind a text is more often part of it than a comment: "Liner #3". */
static void check_comment(struct reader *reader, yaml_mark_t end)
{
    const char *gap = reader->gap;
    if (reader->gap_length < 3 || gap[0] != ' ' || gap[1] != '#' || strchr(" #!\r\n", gap[2]))
        return;
    tree_error(
        reader->tree, reader->file, at_line(end), at_column(end) + 1, reader->errors,
        "what follows \" #\" is a comment: quote the text if it belongs to it, or leave a space after #");
    fail(reader, STATUS_INPUT);
}

/* The text between the end of the event before and the start of this one. */
static void find_gap(struct reader *reader, yaml_mark_t before)
{
    size_t start = reader->byte;
    cursor_move(reader, reader->event.start_mark.index);
    reader->gap = reader->content + start;
    reader->gap_length = reader->byte - start;
    if (reader->after_plain)
        check_comment(reader, before);
    cursor_move(reader, reader->event.end_mark.index);
}

/* Fetches the next event; 0 when the text cannot be read further. */
static int next(struct reader *reader)
{
    yaml_mark_t before = {0};
    if (reader->has_event) {
        before = reader->event.end_mark;
        reader->after_plain = reader->event.type == YAML_SCALAR_EVENT &&
                              reader->event.data.scalar.length > 0 &&
                              reader->event.data.scalar.style == YAML_PLAIN_SCALAR_STYLE;
        yaml_event_delete(&reader->event);
        reader->has_event = 0;
    }
    if (!yaml_parser_parse(&reader->parser, &reader->event)) {
        refuse_syntax(reader);
        return 0;
    }
    reader->has_event = 1;
    find_gap(reader, before);
    return 1;
}

static int gap_has_comma(const struct reader *reader)
{
    int comment = 0;
    for (size_t i = 0; i < reader->gap_length; i++) {
        char c = reader->gap[i];
        comment = (comment || c == '#') && c != '\n' && c != '\r';
        if (c == ',' && !comment)
            return 1;
    }
    return 0;
}

static int gap_is_comma(const struct reader *reader)
{
    return reader->gap_length == 1 && reader->gap[0] == ',';
}

/* --- scalars --- */

static void check_properties(struct reader *reader, const yaml_char_t *anchor, const yaml_char_t *tag)
{
    yaml_mark_t mark = reader->event.start_mark;
    if (anchor)
        COMPLAIN(
            reader, mark,
            "anchors (&) are not read: write the value out where it is wanted; a text that starts with & "
            "must be quoted");
    if (tag)
        COMPLAIN(reader, mark, "tags (!) are not read: remove it; a text that starts with ! must be quoted");
}

static void check_control(struct reader *reader, const struct node *node)
{
    const char *text = node->text;
    size_t left = strlen(text), step;
    for (; left > 0; left -= step, text += step) {
        unsigned code;
        step = text_decode(text, left, &code);
        if (step == 0 || (text_is_control(code) && code != '\n' && code != '\t')) {
            COMPLAIN_NODE(reader, node, "the text holds the control character U+%04X: remove it", code);
            return;
        }
    }
}

/* Plain texts that YAML takes as they stand and that are slips. */
static void check_plain(struct reader *reader, const struct node *node)
{
    const char *text = node->text;
    size_t length = strlen(text), colon = explain_glued_colon(text, length);
    int lines = at_line(reader->event.end_mark) - node->line;
    enum status before = reader->status;
    reader->status = STATUS_OK;
    if (colon) {
        size_t rest = lines > 0 ? strcspn(text + colon, " ") : text_cut(text + colon, 60);
        fail(reader,
             tree_error(reader->tree, node->file, node->line, node->column + (int)colon - 1, reader->errors,
                        "a space is missing after the colon: write %.*s %.*s; quote it if it is text",
                        (int)colon, text, (int)rest, text + colon));
    } else if (text[0] == '-' && (isalpha((unsigned char)text[1]) || strchr("{[\"'-", text[1])) &&
               strncmp(text, "-inf", 4) != 0 && strncmp(text, "-nan", 4) != 0) {
        COMPLAIN_NODE(reader, node, "a space is missing after the dash: write - %.*s; quote it if it is text",
                      (int)text_cut(text + 1, 60), text + 1);
    } else if (lines > 0 && reader->flow > 0) {
        COMPLAIN_NODE(reader, node,
                      "a comma or a closing bracket is missing: this text goes on in the next line");
    } else if (length > 0 && text[length - 1] == ',') {
        COMPLAIN(reader, reader->event.end_mark,
                 "the comma at the end is one too many; quote the text if it belongs to it");
    }
    if (reader->status != STATUS_OK)
        reader->slip_line = node->line;
    fail(reader, before);
}

/* Node of the scalar event at hand; NULL when memory is out. */
static struct node *read_scalar(struct reader *reader)
{
    yaml_mark_t mark = reader->event.start_mark;
    const char *text = (const char *)reader->event.data.scalar.value;
    int plain = reader->event.data.scalar.style == YAML_PLAIN_SCALAR_STYLE;
    check_properties(reader, reader->event.data.scalar.anchor, reader->event.data.scalar.tag);
    struct node *node = node_create(NODE_SCALAR, reader->file, at_line(mark), at_column(mark), text);
    if (!node) {
        fail(reader, STATUS_MEMORY);
        return NULL;
    }
    node->quoted = !plain || strchr(text, '\n') != NULL;
    if (strlen(text) != reader->event.data.scalar.length)
        COMPLAIN_NODE(reader, node, "the text holds the character U+0000: remove it");
    check_control(reader, node);
    if (plain)
        check_plain(reader, node);
    return node;
}

/* --- keys --- */

static int is_digit_at_end(const struct node *node)
{
    size_t length = node->kind == NODE_SCALAR ? strlen(node->text) : 0;
    return length > 0 && !node->quoted && isdigit((unsigned char)node->text[length - 1]);
}

static int is_whole_number(const struct node *node)
{
    const char *text = node->text + (node->text[0] == '-' || node->text[0] == '+');
    return *text != '\0' && strspn(text, "0123456789") == strlen(text);
}

/* `{density: 45,5 kg/m3}`: the comma parts the mapping and leaves a key "5 kg/m3". */
static int check_decimal_comma(struct reader *reader, const struct node *before, const struct node *node)
{
    if (!before || !gap_is_comma(reader) || node->quoted || !isdigit((unsigned char)node->text[0]) ||
        !is_digit_at_end(before))
        return 0;
    COMPLAIN_NODE(reader, before, "a number has a decimal point, not a comma: write %.*s.%.*s",
                  (int)text_cut(before->text, 60), before->text, (int)text_cut(node->text, 60), node->text);
    return 1;
}

/* In a list "45,5 kg/m3" can only be meant so when the first half lacks the unit of the second. */
static void check_item_comma(struct reader *reader, const struct node *list, const struct node *item)
{
    const struct node *before = list->count > 0 ? list->items[list->count - 1] : NULL;
    if (before && before->kind == NODE_SCALAR && item->kind == NODE_SCALAR && is_whole_number(before) &&
        strspn(item->text, "0123456789") < strlen(item->text))
        check_decimal_comma(reader, before, item);
}

/* Node of the key at hand; NULL when it is none or memory is out. */
static struct node *read_key(struct reader *reader)
{
    if (reader->event.type != YAML_SCALAR_EVENT) {
        COMPLAIN(reader, reader->event.start_mark, "a key is a word, not a list, a mapping or an alias");
        return NULL;
    }
    if (++*reader->nodes > NODE_LIMIT) {
        COMPLAIN(reader, reader->event.start_mark, "more than %d entries", NODE_LIMIT);
        return NULL;
    }
    struct node *key = read_scalar(reader);
    if (!key)
        return NULL;
    if (!key->quoted && strcmp(key->text, "<<") == 0)
        COMPLAIN_NODE(reader, key, "merge keys (<<) are not read: use include, or write the values out");
    else if (key->text[0] == '\0')
        COMPLAIN_NODE(reader, key, "a key is missing before the colon");
    else if (strlen(key->text) > NODE_KEY_LENGTH || strchr(key->text, '\n'))
        COMPLAIN_NODE(reader, key, "a key is one line of at most %d bytes", NODE_KEY_LENGTH);
    return key;
}

static void check_value(struct reader *reader, const struct node *key, const struct node *value)
{
    if (value->kind != NODE_SCALAR || value->quoted || value->text[0] != '\0')
        return;
    const char *space = strchr(key->text, ' ');
    if (!key->quoted && explain_glued_colon(key->text, strlen(key->text)))
        return;
    if (space && reader->flow > 0 && !key->quoted)
        COMPLAIN_NODE(reader, key, "a colon is missing: write %.*s: %.*s", (int)(space - key->text),
                      key->text, (int)text_cut(space + 1, 60), space + 1);
    else
        COMPLAIN_NODE(reader, key, "%.*s has no value", (int)text_cut(key->text, 60), key->text);
}

struct ranked_key {
    const struct node *key;
    size_t at;
};

static int ranked_compare(const void *left, const void *right)
{
    const struct ranked_key *a = left, *b = right;
    int order = strcmp(a->key->text, b->key->text);
    return order ? order : (a->at > b->at) - (a->at < b->at);
}

/* Sorted, since a hostile file may hold 50,000 keys in one mapping. */
static void check_repeated(struct reader *reader, const struct node *mapping)
{
    struct ranked_key *ranked = memory_zeroed(mapping->count, sizeof *ranked);
    if (!ranked) {
        fail(reader, STATUS_MEMORY);
        return;
    }
    for (size_t i = 0; i < mapping->count; i++)
        ranked[i] = (struct ranked_key){mapping->keys[i], i};
    qsort(ranked, mapping->count, sizeof *ranked, ranked_compare);
    for (size_t i = 1; i < mapping->count; i++) {
        const struct node *first = ranked[i - 1].key, *again = ranked[i].key;
        if (strcmp(first->text, again->text) == 0)
            COMPLAIN_NODE(reader, again, "%.*s stands twice, in line %d and in line %d: keep one",
                          (int)text_cut(again->text, 60), again->text, first->line, again->line);
    }
    memory_free(ranked);
}

/* --- nodes --- */

static struct node *read_node(struct reader *reader);

static struct node *read_pairs(struct reader *reader, struct node *mapping)
{
    struct node *key = NULL, *value = NULL;
    while (next(reader)) {
        if (reader->event.type == YAML_MAPPING_END_EVENT)
            return mapping;
        key = read_key(reader);
        if (!key)
            break;
        const struct node *before = mapping->count > 0 ? mapping->items[mapping->count - 1] : NULL;
        int parted = check_decimal_comma(reader, before, key);
        value = next(reader) ? read_node(reader) : NULL;
        if (!value)
            break;
        if (!parted)
            check_value(reader, key, value);
        if (node_append(mapping, key, value) != STATUS_OK) {
            fail(reader, STATUS_MEMORY);
            break;
        }
        key = value = NULL;
    }
    node_free(key);
    node_free(value);
    return NULL;
}

static void check_item(struct reader *reader, const struct node *list, const struct node *item)
{
    if (item->kind != NODE_SCALAR)
        return;
    check_item_comma(reader, list, item);
    if (!item->quoted && item->text[0] == '\0')
        COMPLAIN_NODE(reader, item, "this item is empty");
}

static struct node *read_items(struct reader *reader, struct node *list)
{
    while (next(reader)) {
        if (reader->event.type == YAML_SEQUENCE_END_EVENT)
            return list;
        struct node *item = read_node(reader);
        if (!item)
            return NULL;
        check_item(reader, list, item);
        if (node_append(list, NULL, item) != STATUS_OK) {
            node_free(item);
            fail(reader, STATUS_MEMORY);
            return NULL;
        }
    }
    return NULL;
}

/* Mapping or list of the event at hand, up to its end. */
static struct node *read_collection(struct reader *reader, enum node_kind kind, int flow)
{
    yaml_mark_t mark = reader->event.start_mark, outer = reader->open;
    struct node *node = node_create(kind, reader->file, at_line(mark), at_column(mark), NULL);
    if (!node) {
        fail(reader, STATUS_MEMORY);
        return NULL;
    }
    reader->depth++;
    reader->flow += flow;
    reader->open = flow ? mark : outer;
    struct node *whole = kind == NODE_MAPPING ? read_pairs(reader, node) : read_items(reader, node);
    reader->depth--;
    reader->flow -= flow;
    reader->open = outer;
    if (!whole) {
        node_free(node);
        return NULL;
    }
    if (flow && gap_has_comma(reader))
        COMPLAIN(reader, reader->event.start_mark, "the comma before this bracket is one too many");
    if (kind == NODE_MAPPING && node->count > 1)
        check_repeated(reader, node);
    return node;
}

/* An alias is refused and stands as an empty text, so that reading goes on. */
static struct node *read_alias(struct reader *reader)
{
    yaml_mark_t mark = reader->event.start_mark;
    COMPLAIN(reader, mark,
             "aliases (*) are not read: write the value out; a text that starts with * must be quoted");
    struct node *node = node_create(NODE_SCALAR, reader->file, at_line(mark), at_column(mark), "");
    if (node)
        node->quoted = 1;
    else
        fail(reader, STATUS_MEMORY);
    return node;
}

/* Node that starts with the event at hand, which is then its last; NULL when reading cannot go on. */
static struct node *read_node(struct reader *reader)
{
    const yaml_event_t *event = &reader->event;
    yaml_mark_t mark = event->start_mark;
    if (++*reader->nodes > NODE_LIMIT) {
        COMPLAIN(reader, mark, "more than %d entries", NODE_LIMIT);
        return NULL;
    }
    if (event->type == YAML_SCALAR_EVENT)
        return read_scalar(reader);
    if (event->type == YAML_ALIAS_EVENT)
        return read_alias(reader);
    if (reader->depth == NODE_DEPTH) {
        COMPLAIN(reader, mark, "more than %d levels of lists and mappings", NODE_DEPTH);
        return NULL;
    }
    if (event->type == YAML_MAPPING_START_EVENT) {
        check_properties(reader, event->data.mapping_start.anchor, event->data.mapping_start.tag);
        return read_collection(reader, NODE_MAPPING,
                               event->data.mapping_start.style == YAML_FLOW_MAPPING_STYLE);
    }
    check_properties(reader, event->data.sequence_start.anchor, event->data.sequence_start.tag);
    return read_collection(reader, NODE_SEQUENCE,
                           event->data.sequence_start.style == YAML_FLOW_SEQUENCE_STYLE);
}

/* --- documents --- */

static int is_empty_text(const struct node *node)
{
    return node->kind == NODE_SCALAR && !node->quoted && node->text[0] == '\0';
}

static void refuse_empty(struct reader *reader)
{
    fail(reader, tree_error(reader->tree, reader->file, 0, 0, reader->errors,
                            "nothing is written here: \"key: value\" lines are wanted"));
}

/* The one document of the stream. */
static struct node *read_document(struct reader *reader)
{
    if (!next(reader) || !next(reader)) /* start of stream, start of document */
        return NULL;
    if (reader->event.type == YAML_STREAM_END_EVENT) {
        refuse_empty(reader);
        return NULL;
    }
    if (reader->event.data.document_start.version_directive ||
        reader->event.data.document_start.tag_directives.start !=
            reader->event.data.document_start.tag_directives.end)
        COMPLAIN(reader, reader->event.start_mark, "a line that starts with %% is not read: remove it");
    struct node *root = next(reader) ? read_node(reader) : NULL;
    if (!root)
        return NULL;
    if (is_empty_text(root))
        refuse_empty(reader);
    if (next(reader) && next(reader) && reader->event.type != YAML_STREAM_END_EVENT)
        COMPLAIN(reader, reader->event.start_mark, "a second document starts here: a file holds one");
    return root;
}

enum status reader_parse(const struct tree *tree, int file, const char *content, size_t length, size_t *nodes,
                         struct node **root, struct errors *errors)
{
    struct reader reader = {
        .tree = tree, .file = file, .content = content, .length = length, .errors = errors, .nodes = nodes};
    *root = NULL;
    if (length > NODE_TEXT_LIMIT)
        return tree_error(tree, file, 0, 0, errors, "the file is larger than 1 MiB, which no case needs");
    enum status status = check_characters(&reader, content, length);
    if (status != STATUS_OK)
        return status;
    if (!yaml_parser_initialize(&reader.parser))
        return STATUS_MEMORY;
    yaml_parser_set_encoding(&reader.parser, YAML_UTF8_ENCODING);
    yaml_parser_set_input_string(&reader.parser, (const unsigned char *)content, length);
    *root = read_document(&reader);
    if (reader.has_event)
        yaml_event_delete(&reader.event);
    yaml_parser_delete(&reader.parser);
    if (reader.status != STATUS_OK) {
        node_free(*root);
        *root = NULL;
    }
    return reader.status;
}
