#include <criterion/criterion.h>
#include <fcntl.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "cases/node.h"
#include "solver/base/memory.h"

/* A fresh folder for each test, the working folder while it runs. */
static char folder[64];

static void folder_enter(void)
{
    strcpy(folder, "/tmp/foampulse-tree-XXXXXX");
    cr_assert_not_null(mkdtemp(folder));
    cr_assert_eq(chdir(folder), 0);
}

static void folder_leave(void)
{
    char command[128];
    sprintf(command, "rm -rf %s", folder);
    cr_assert_eq(chdir("/"), 0);
    cr_assert_eq(system(command), 0);
}

TestSuite(tree, .init = folder_enter, .fini = folder_leave);

static void write_file(const char *name, const char *content)
{
    FILE *file = fopen(name, "w");
    cr_assert_not_null(file, "%s", name);
    fputs(content, file);
    fclose(file);
}

/* Reads a.yaml with up to two settings and compares the text of the tree. */
static void read_gives(const char *first, const char *second, const char *wanted)
{
    const char *sets[] = {first, second};
    struct tree tree;
    struct errors errors = {0};
    enum status status = tree_read("a.yaml", sets, (first != NULL) + (second != NULL), &tree, &errors);
    cr_assert_eq(status, STATUS_OK, "%s: %s:%d:%d: %s", first ? first : "", errors.kept[0].file,
                 errors.kept[0].line, errors.kept[0].column, errors.kept[0].text);
    char *text = tree_text(&tree);
    cr_expect_str_eq(text, wanted, "%s: gives\n%s\nwanted\n%s", first ? first : "", text, wanted);
    memory_free(text);
    tree_free(&tree);
}

/* Reads `path`; the first message is at FILE:LINE:COLUMN ("" for no place to check) and holds `message`. */
static struct error read_fails(const char *path, const char *set, enum status wanted, const char *place,
                               const char *message)
{
    struct tree tree;
    struct errors errors = {0};
    char found[600];
    enum status status = tree_read(path, &set, set != NULL, &tree, &errors);
    const struct error *first = &errors.kept[0];
    snprintf(found, sizeof found, "%s:%d:%d", first->file, first->line, first->column);
    cr_assert_eq(status, wanted, "%s %s: status %d (%s)", path, set ? set : "", status, first->text);
    cr_expect_eq(first->status, wanted);
    cr_expect_str_eq(found, place, "%s: at %s, wanted %s (%s)", set ? set : path, found, place, first->text);
    cr_expect(strstr(first->text, message), "%s: \"%s\" lacks \"%s\"", set ? set : path, first->text,
              message);
    cr_expect_null(tree.root);
    cr_expect_null(tree.files);
    return *first;
}

/* --- files --- */

Test(tree, files_refused)
{
    read_fails("none.yaml", NULL, STATUS_FILE, "none.yaml:0:0", "no such file");
    cr_assert_eq(mkdir("sub", 0777), 0);
    read_fails("sub", NULL, STATUS_FILE, "sub:0:0", "this is a folder, not a file");
    write_file("empty.yaml", "");
    read_fails("empty.yaml", NULL, STATUS_INPUT, "empty.yaml:0:0", "nothing is written here");
    read_fails("empty.yaml/a.yaml", NULL, STATUS_FILE, "empty.yaml/a.yaml:0:0", "Not a directory");
    write_file("a.yaml", "- a\n");
    read_fails("a.yaml", NULL, STATUS_INPUT, "a.yaml:1:1", "keys are wanted here");
}

/* A file without end is refused after 1 MiB. */
Test(tree, size_is_bounded_while_reading)
{
    read_fails("/dev/zero", NULL, STATUS_INPUT, "/dev/zero:0:0", "larger than 1 MiB");
    char *text = malloc(NODE_TEXT_LIMIT + 2);
    memset(text, '#', NODE_TEXT_LIMIT + 1);
    memcpy(text, "a: 1 \n", 6);
    text[NODE_TEXT_LIMIT] = '\0';
    write_file("a.yaml", text);
    read_gives(NULL, NULL, "a: 1\n");
    text[NODE_TEXT_LIMIT] = '#';
    text[NODE_TEXT_LIMIT + 1] = '\0';
    write_file("a.yaml", text);
    read_fails("a.yaml", NULL, STATUS_INPUT, "a.yaml:0:0", "larger than 1 MiB");
    free(text);
}

Test(tree, standard_input)
{
    write_file("b.yaml", "b: 2\n");
    write_file("input", "include: b.yaml\na: 1\n");
    int file = open("input", O_RDONLY), saved = dup(STDIN_FILENO);
    cr_assert_eq(dup2(file, STDIN_FILENO), STDIN_FILENO);
    struct tree tree;
    struct errors errors = {0};
    enum status status = tree_read("-", NULL, 0, &tree, &errors);
    cr_assert_eq(status, STATUS_OK, "%s", errors.kept[0].text);
    cr_assert_str_eq(node_get(tree.root, "b")->text, "2");
    tree_free(&tree);
    dup2(saved, STDIN_FILENO);
    close(saved);
    close(file);
}

/* Indentation alone can make a legal file too large to be written back. */
Test(tree, resolved_text_is_bounded)
{
    char *text = malloc(NODE_TEXT_LIMIT);
    size_t at = (size_t)sprintf(text, "a: ");
    for (int i = 0; i < 28; i++)
        at += (size_t)sprintf(text + at, "[");
    for (int i = 0; i < 40000; i++)
        at += (size_t)sprintf(text + at, "1,");
    at--;
    for (int i = 0; i < 28; i++)
        at += (size_t)sprintf(text + at, "]");
    write_file("a.yaml", text);
    read_fails("a.yaml", NULL, STATUS_INPUT, "a.yaml:0:0", "with all includes and indentation");
    free(text);
}

/* --- includes --- */

Test(tree, include_merges)
{
    write_file("base.yaml", "headform: {set: en-960, size: J}\nshell: {thickness: 3 mm, material: abs}\n"
                            "impacts: [1, 2]\nlimits: {peak_g: 275 g}\n");
    write_file("more.yaml", "shell: {thickness: 4 mm}\nlimits: un-r22.06\n");
    write_file("a.yaml", "include: [base.yaml, more.yaml]\nheadform: {size: M}\nimpacts: [3]\ntitle: x\n");
    read_gives(NULL, NULL,
               "headform:\n  set: en-960\n  size: M\nshell:\n  thickness: 4 mm\n  material: abs\n"
               "impacts:\n  - 3\nlimits: un-r22.06\ntitle: x\n");
    write_file("a.yaml",
               "title: x\ninclude: base.yaml\nlimits: {drop: true}\nshell: {material: {drop: true}}\n");
    read_gives(NULL, NULL,
               "headform:\n  set: en-960\n  size: J\nshell:\n  thickness: 3 mm\n"
               "impacts:\n  - 1\n  - 2\ntitle: x\n");
}

/* Named lists merge by name at their place; what is new comes behind what it follows, or first. */
Test(tree, include_merges_by_name)
{
    write_file("b.yaml",
               "liner:\n  regions:\n    - {name: brow, open: true}\n    - {name: crown, layers: [1, 2]}\n"
               "    - {name: rest, layers: [3]}\nsizes: {S: {a: 1}, M: {a: 2}}\n"
               "sites: [{name: P, at: 1}]\nimpacts: [{name: x, a: 1}]\n");
    write_file("a.yaml",
               "include: b.yaml\nliner: {regions: [{name: new, layers: [0]}, {name: crown, layers: [9]}, "
               "{name: behind}]}\nsizes: {S: {drop: true}, L: {a: 3}}\nsites: [{name: Q, at: 2}]\n"
               "impacts: [{name: x, b: 1}]\n");
    read_gives(NULL, NULL,
               "liner:\n  regions:\n    - name: new\n      layers:\n        - 0\n    - name: brow\n"
               "      open: true\n    - name: crown\n      layers:\n        - 9\n    - name: behind\n"
               "    - name: rest\n      layers:\n        - 3\nsizes:\n  M:\n    a: 2\n  L:\n    a: 3\n"
               "sites:\n  - name: Q\n    at: 2\n  - name: P\n    at: 1\nimpacts:\n  - name: x\n    b: 1\n");
    write_file("a.yaml", "include: b.yaml\nliner: {regions: [{name: brow, drop: true}, {name: after}]}\n"
                         "impacts: {drop: true}\nsizes: {drop: true}\nsites: {drop: true}\n");
    read_gives(NULL, NULL,
               "liner:\n  regions:\n    - name: after\n    - name: crown\n      layers:\n        - 1\n"
               "        - 2\n    - name: rest\n      layers:\n        - 3\n");
}

/* What follows a dropped item takes its place, also at the end. */
Test(tree, dropped_item_gives_its_place)
{
    write_file("b.yaml", "sites: [{name: P}, {name: Q}, {name: R}]\n");
    write_file("a.yaml", "include: b.yaml\nsites: [{name: Q, drop: true}, {name: S}]\n");
    read_gives(NULL, NULL, "sites:\n  - name: P\n  - name: S\n  - name: R\n");
    write_file("a.yaml", "include: b.yaml\nsites: [{name: R, drop: true}, {name: S}]\n");
    read_gives(NULL, NULL, "sites:\n  - name: P\n  - name: Q\n  - name: S\n");
}

Test(tree, drops_refused)
{
    write_file("b.yaml", "liner: {regions: [{name: crown}]}\nshell: {thickness: 3 mm}\n");
    write_file("a.yaml", "include: b.yaml\nliner: {regions: [{name: crwon, drop: true}]}\n");
    read_fails("a.yaml", NULL, STATUS_INPUT, "a.yaml:2:19", "no crwon to drop; did you mean crown?");
    write_file("a.yaml", "include: b.yaml\nshell: {thicknes: {drop: true}}\n");
    read_fails("a.yaml", NULL, STATUS_INPUT, "a.yaml:2:19", "no thicknes to drop; did you mean thickness?");
    write_file("a.yaml", "include: b.yaml\nshell: {drop: yes}\n");
    read_fails("a.yaml", NULL, STATUS_INPUT, "a.yaml:2:15", "drop is written \"drop: true\"");
    write_file("a.yaml", "include: b.yaml\nshell: {drop: true, thickness: 1 mm}\n");
    read_fails("a.yaml", NULL, STATUS_INPUT, "a.yaml:2:15", "with no other key but the name");
    write_file("a.yaml", "include: b.yaml\nnew: [{x: {drop: true}}]\n");
    read_fails("a.yaml", NULL, STATUS_INPUT, "a.yaml:2:12", "there is nothing to drop");
    write_file("a.yaml", "shell: {drop: true}\n");
    read_fails("a.yaml", NULL, STATUS_INPUT, "a.yaml:1:9", "there is nothing to drop");
    write_file("a.yaml", "include: b.yaml\nliner: {regions: [{open: true}]}\n");
    read_fails("a.yaml", NULL, STATUS_INPUT, "a.yaml:2:19", "needs a name to be merged");
}

/* A path is relative to the including file; messages carry the chain of includes. */
Test(tree, include_chain)
{
    cr_assert_eq(mkdir("parts", 0777), 0);
    cr_assert_eq(mkdir("parts/deep", 0777), 0);
    write_file("a.yaml", "title: x\ninclude: parts/b.yaml\n");
    write_file("parts/b.yaml", "b: 1\n\ninclude: deep/c.yaml\n");
    write_file("parts/deep/c.yaml", "include: ../d.yaml\nc: 1\n");
    write_file("parts/d.yaml", "d: 1\n");
    read_gives(NULL, NULL, "d: 1\nc: 1\nb: 1\ntitle: x\n");
    write_file("parts/d.yaml", "d: 1\ne: !x 2\n");
    struct error error =
        read_fails("a.yaml", NULL, STATUS_INPUT, "parts/deep/../d.yaml:2:4", "tags (!) are not read");
    cr_assert_str_eq(error.included, "included from parts/deep/c.yaml:1, included from parts/b.yaml:3, "
                                     "included from a.yaml:2");
    cr_assert_str_eq(error.source, "e: !x 2");
}

/* A node that an include brought says so later, too. */
Test(tree, node_error_names_include)
{
    write_file("a.yaml", "include: b.yaml\nshell: {thickness: 3 mm}\n");
    write_file("b.yaml", "shell: {material: abs, thickness: 2 mm}\n");
    struct tree tree;
    struct errors errors = {0};
    cr_assert_eq(tree_read("a.yaml", NULL, 0, &tree, &errors), STATUS_OK);
    const struct node *shell = node_get(tree.root, "shell");
    node_error(&tree, node_get(shell, "material"), &errors, "first");
    node_error(&tree, node_get(shell, "thickness"), &errors, "second");
    cr_assert_str_eq(errors.kept[0].file, "b.yaml");
    cr_assert_str_eq(errors.kept[0].included, "included from a.yaml:1");
    cr_assert_str_eq(errors.kept[1].file, "a.yaml");
    cr_assert_str_eq(errors.kept[1].included, "");
    cr_assert_eq(errors.kept[1].column, 20);
    tree_free(&tree);
}

Test(tree, include_cycles)
{
    write_file("a.yaml", "include: b.yaml\n");
    write_file("b.yaml", "b: 1\ninclude: [c.yaml]\n");
    write_file("c.yaml", "include: ./a.yaml\n");
    struct error error = read_fails("a.yaml", NULL, STATUS_INPUT, "c.yaml:1:10",
                                    "the files include each other: a.yaml -> b.yaml -> c.yaml -> a.yaml");
    cr_assert_str_eq(error.included, "included from b.yaml:2, included from a.yaml:1");
    write_file("a.yaml", "include: a.yaml\n");
    read_fails("a.yaml", NULL, STATUS_INPUT, "a.yaml:1:10", "a.yaml -> a.yaml");
    cr_assert_eq(symlink("a.yaml", "link.yaml"), 0);
    write_file("a.yaml", "include: link.yaml\n");
    read_fails("a.yaml", NULL, STATUS_INPUT, "a.yaml:1:10", "include each other");
    /* the same file twice is no cycle */
    write_file("a.yaml", "include: [b.yaml, b.yaml, c.yaml]\n");
    write_file("b.yaml", "b: 1\n");
    write_file("c.yaml", "include: b.yaml\nc: 1\n");
    read_gives(NULL, NULL, "b: 1\nc: 1\n");
}

/* Every file includes the next one twice: 2^n files. */
Test(tree, include_explosion)
{
    for (int i = 0; i < 30; i++) {
        char name[16], text[64];
        sprintf(name, i ? "%d.yaml" : "a.yaml", i);
        sprintf(text, "include: [%d.yaml, %d.yaml]\n", i + 1, i + 1);
        write_file(name, text);
    }
    write_file("30.yaml", "a: 1\n");
    struct error error = read_fails("a.yaml", NULL, STATUS_INPUT, "29.yaml:1:11", "more than 64 files");
    cr_assert_gt(strlen(error.included), 400);
}

Test(tree, includes_outside_refused)
{
    cr_assert_eq(mkdir("case", 0777), 0);
    cr_assert_eq(mkdir("case/parts", 0777), 0);
    cr_assert_eq(mkdir("case2", 0777), 0);
    write_file("secret.yaml", "password: 1\n");
    write_file("case2/x.yaml", "x: 1\n");
    static const char *outside[] = {"../secret.yaml",          "../none.yaml", "/etc/passwd",
                                    "parts/../../secret.yaml", "link.yaml",    "folder/x.yaml",
                                    "parts/up/x.yaml"};
    cr_assert_eq(symlink("../secret.yaml", "case/link.yaml"), 0);
    cr_assert_eq(symlink("../case2", "case/folder"), 0);
    cr_assert_eq(symlink("../../case2", "case/parts/up"), 0);
    for (size_t i = 0; i < sizeof outside / sizeof *outside; i++) {
        char text[64];
        sprintf(text, "include: %s\n", outside[i]);
        write_file("case/a.yaml", text);
        read_fails("case/a.yaml", NULL, STATUS_INPUT, "case/a.yaml:1:10",
                   "is outside the folder of the case");
    }
    write_file("case/a.yaml", "include: parts/p.yaml\n");
    write_file("case/parts/p.yaml", "include: ../../secret.yaml\n");
    read_fails("case/a.yaml", NULL, STATUS_INPUT, "case/parts/p.yaml:1:10", "is outside the folder");
    write_file("case/parts/p.yaml", "include: [../q.yaml]\n");
    write_file("case/q.yaml", "q: 1\n");
    struct tree tree;
    struct errors errors = {0};
    cr_assert_eq(tree_read("case/a.yaml", NULL, 0, &tree, &errors), STATUS_OK);
    tree_free(&tree);
}

Test(tree, includes_refused)
{
    write_file("a.yaml", "include: none.yaml\n");
    read_fails("a.yaml", NULL, STATUS_INPUT, "a.yaml:1:10", "none.yaml: no such file");
    cr_assert_eq(mkdir("sub", 0777), 0);
    write_file("a.yaml", "include: [sub]\n");
    read_fails("a.yaml", NULL, STATUS_INPUT, "a.yaml:1:11", "sub: this is a folder");
    cr_assert_eq(mkfifo("pipe", 0666), 0);
    write_file("a.yaml", "include: pipe\n");
    read_fails("a.yaml", NULL, STATUS_INPUT, "a.yaml:1:10", "pipe: this is not an ordinary file");
    write_file("a.yaml", "include: {b: 1}\n");
    read_fails("a.yaml", NULL, STATUS_INPUT, "a.yaml:1:10", "include is a path or a list of paths");
    write_file("b.yaml", "- 1\n");
    write_file("a.yaml", "include: b.yaml\n");
    read_fails("a.yaml", NULL, STATUS_INPUT, "b.yaml:1:1", "keys are wanted here");
    struct tree tree;
    struct errors errors = {0};
    cr_assert_eq(tree_parse("p.yaml", "include: b.yaml\n", 16, &tree, &errors), STATUS_INPUT);
    cr_assert(strstr(errors.kept[0].text, "cannot include"));
    cr_assert_eq(errors.kept[0].column, 1);
}

/* --- settings --- */

static void write_case(void)
{
    write_file(
        "a.yaml",
        "headform: {size: J}\nliner:\n  foam: eps\n  regions:\n    - {name: vision opening, open: true}\n"
        "    - {name: crown, layers: [{density: 45 g/l}, {density: 30 g/l}]}\n"
        "    - {name: rest, layers: [{density: 40 g/l}]}\nimpacts: [{at: P}, {at: B}]\n"
        "sizes: {S: {headform.size: E}}\n");
}

/* One setting on the case above: `wanted` is the line pair that must stand in the text. */
static void set_gives(const char *set, const char *wanted)
{
    struct tree tree;
    struct errors errors = {0};
    enum status status = tree_read("a.yaml", &set, 1, &tree, &errors);
    cr_assert_eq(status, STATUS_OK, "%s: %d: %s", set, errors.kept[0].column, errors.kept[0].text);
    char *text = tree_text(&tree);
    cr_expect(strstr(text, wanted), "%s gives\n%s", set, text);
    memory_free(text);
    tree_free(&tree);
}

Test(tree, settings)
{
    write_case();
    set_gives("headform.size=M", "headform:\n  size: M\n");
    set_gives("headform.set = en-960", "headform:\n  size: J\n  set: en-960\n");
    set_gives("title=Two words, and a comma", "title: Two words, and a comma\n");
    set_gives("title=\"a: b\"", "title: \"a: b\"\n");
    set_gives("liner.crown.layers.2.density=60 g/l", "- density: 45 g/l\n        - density: 60 g/l\n");
    set_gives("liner.regions.2.layers.2.density=60 g/l", "- density: 45 g/l\n        - density: 60 g/l\n");
    set_gives("liner.regions.crown.layers.2.density=60 g/l",
              "- density: 45 g/l\n        - density: 60 g/l\n");
    set_gives("liner.vision opening.open=false", "name: vision opening\n      open: false\n");
    set_gives("liner.*.layers.1.density=9 g/l",
              "- density: 9 g/l\n        - density: 30 g/l\n    - name: rest\n"
              "      layers:\n        - density: 9 g/l\n");
    set_gives("liner.*.layers.*.density=9 g/l",
              "- density: 9 g/l\n        - density: 9 g/l\n    - name: rest\n"
              "      layers:\n        - density: 9 g/l\n");
    set_gives("liner.crown.layers.1.density + liner.rest.layers.1.density=7 g/l",
              "- density: 7 g/l\n        - density: 30 g/l\n    - name: rest\n      layers:\n        - "
              "density: 7 g/l\n");
    set_gives("liner.foam=epp", "liner:\n  foam: epp\n");
    set_gives("impacts.*.speed=7 m/s", "  - at: P\n    speed: 7 m/s\n  - at: B\n    speed: 7 m/s\n");
    set_gives("impacts.2.at=[20 deg, 0 deg]", "  - at: P\n  - at:\n      - 20 deg\n      - 0 deg\n");
    set_gives("impacts=[{at: R, anvil: flat}]", "impacts:\n  - at: R\n    anvil: flat\n");
    set_gives("shell={material: abs}", "shell:\n  material: abs\n");
    set_gives("solver.cell=1 mm", "solver:\n  cell: 1 mm\n");
    set_gives("impacts.1.friction.head=0.3", "  - at: P\n    friction:\n      head: 0.3\n  - at: B\n");
    set_gives("liner.crown.layers.2.a.b.c=1", "        - density: 30 g/l\n          a:\n            b:\n"
                                              "              c: 1\n");
    set_gives("sizes.S.headform.size=C", "S:\n    headform.size: C\n");
    set_gives("a b-c_1=[]", "a b-c_1: []\n");
    set_gives("gr\xc3\xb6sse=1", "gr\xc3\xb6sse: 1\n");
    read_gives("headform=1", "headform=2",
               "headform: 2\nliner:\n  foam: eps\n  regions:\n    - name: vision opening\n"
               "      open: true\n    - name: crown\n      layers:\n        - density: 45 g/l\n"
               "        - density: 30 g/l\n    - name: rest\n      layers:\n"
               "        - density: 40 g/l\nimpacts:\n  - at: P\n  - at: B\nsizes:\n  S:\n"
               "    headform.size: E\n");
}

Test(tree, settings_refused)
{
    static const struct {
        const char *set;
        int column;
        const char *message;
    } rows[] = {
        {"linr.foam=eps", 1, "the case has no linr; did you mean liner?"},
        {"liner.crwon.layers.1.density=1 g/l", 7, "liner has no crwon; did you mean crown?"},
        {"liner.crown.layers.3.density=1 g/l", 20,
         "liner.crown.layers has 2 items, counted from 1; 3 is none"},
        {"liner.crown.layers.0.density=1 g/l", 20, "0 is none of them"},
        {"liner.crown.layers.99999999999999999999999.density=1 g/l", 20, "is none of them"},
        {"liner.temples.layers.1.density=1 g/l", 7, "liner has no temples"},
        {"impacts.1.friction.1=0.3", 11, "impacts.1 has no friction"},
        {"impacts.P.speed=1 m/s", 9, "impacts has no P"},
        {"impacts.*.anvil.angle=1 deg", 9, "nothing here has the rest of this path"},
        {"headform.size.x=1", 15, "headform.size is a single value (J) and has no x"},
        {"headform.siez.x=1", 10, "headform has no siez; did you mean size?"},
        {"solver.1=2", 1, "the case has no solver"},
        {"headform.size", 1, "PATH=VALUE is wanted"},
        {"=3", 1, "PATH=VALUE is wanted"},
        {"headform..size=J", 10, "a part of the path is empty"},
        {".=J", 1, "a part of the path is empty"},
        {"headform.size + =J", 16, "a part of the path is empty"},
        {"headform.size + linr.foam=J", 17, "the case has no linr"},
        {"headform.size=", 14, "a value is missing behind the equals sign"},
        {"headform.size=   ", 14, "a value is missing behind the equals sign"},
        {"headform.size=a: b", 15, "write a mapping as {key: value}"},
        {"headform.size=- b", 15, "write a mapping as {key: value} and a list as [a, b]"},
        {"headform.size=[a, b", 15, "this [ is not closed"},
        {"headform.size={size:J}", 20, "a space is missing after the colon"},
        {"headform.size=!x J", 15, "tags (!) are not read"},
        {"a'b=1", 1, "a key is made of letters, digits"},
        {"1a=1", 1, "a key is made of letters, digits"},
        {"gr\xc3\xb6sse.x.y=[", 12, "this [ is not closed"},
        {"h\xff=1", 1, "a key is made of letters"},
        {"title=\xff", 7, "byte 0xFF is not UTF-8"},
    };
    write_case();
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        char place[32];
        sprintf(place, "--set:1:%d", rows[i].column);
        struct error error = read_fails("a.yaml", rows[i].set, STATUS_USAGE, place, rows[i].message);
        char clean[128];
        snprintf(clean, sizeof clean, "%s", rows[i].set);
        for (char *c = clean; *c; c++)
            *c = *c == '\xff' ? '?' : *c;
        cr_expect_str_eq(error.source, clean);
        cr_expect_str_eq(error.included, "");
    }
}

/* What --set put in is shown as such when a later check refuses it. */
Test(tree, setting_keeps_its_place)
{
    write_case();
    const char *set = "headform.size + headform.set = Q";
    struct tree tree;
    struct errors errors = {0};
    cr_assert_eq(tree_read("a.yaml", &set, 1, &tree, &errors), STATUS_OK);
    const struct node *headform = node_get(tree.root, "headform");
    cr_assert_eq(node_error(&tree, node_get(headform, "size"), &errors, "no Q"), STATUS_USAGE);
    node_error(&tree, headform->keys[node_index(headform, "set")], &errors, "no set");
    cr_assert_str_eq(errors.kept[0].file, "--set");
    cr_assert_eq(errors.kept[0].column, 32);
    cr_assert_str_eq(errors.kept[0].source, set);
    cr_assert_eq(errors.kept[1].column, 26);
    tree_free(&tree);
}

/* Every allocation fails once, with an include and settings: no leak, no crash, the right status. */
Test(tree, memory_out)
{
    write_case();
    write_file("b.yaml",
               "include: a.yaml\nliner: {regions: [{name: new, open: true}, {name: rest, drop: true}]}\n");
    const char *sets[] = {"liner.*.open=true", "solver.cell=1 mm", "impacts=[{at: P, x: [1, 2]}]"};
    size_t failures = 0, before;
    enum status status;
    do {
        struct tree tree;
        struct errors errors = {0};
        before = memory_failures();
        memory_fail_after(failures++);
        status = tree_read("b.yaml", sets, 3, &tree, &errors);
        cr_assert_eq(status, memory_failures() > before ? STATUS_MEMORY : STATUS_OK, "allocation %zu: %s",
                     failures, errors.kept[0].text);
        cr_assert(status == STATUS_OK || (tree.root == NULL && errors.count == 1));
        tree_free(&tree);
    } while (memory_failures() > before && failures < 10000);
    memory_fail_after(SIZE_MAX);
    cr_assert_gt(failures, 200);
    cr_assert_eq(status, STATUS_OK);
}

Test(tree, free_is_allowed_twice)
{
    struct tree tree = {0};
    tree_free(&tree);
    tree_free(&tree);
    cr_assert_null(tree.root);
}
