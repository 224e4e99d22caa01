/* compare.c: the comparisons. The event stream is read by libxml2's own reader, not by the parser
 * under test. */
#include "support/compare.h"
#include "base/buffer.h"
#include <libxml/c14n.h>
#include <libxml/parser.h>
#include <libxml/xmlreader.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static void put_text(muta_buffer *text, const char *at)
{
    if (muta_buffer_put(text, at ? at : "", at ? strlen(at) : 0) != MUTA_OK)
        abort();
}

static int by_text(const void *a, const void *b)
{
    return strcmp(*(char *const *)a, *(char *const *)b);
}

static void put_attributes(muta_buffer *text, xmlTextReaderPtr reader)
{
    char *pairs[256];
    int count = 0;

    while (xmlTextReaderMoveToNextAttribute(reader) == 1 && count < 256) {
        muta_buffer pair = {0};
        put_text(&pair, (const char *)xmlTextReaderConstName(reader));
        put_text(&pair, "=");
        put_text(&pair, (const char *)xmlTextReaderConstValue(reader));
        pairs[count++] = pair.at;
    }
    qsort(pairs, (size_t)count, sizeof *pairs, by_text);
    for (int i = 0; i < count; i++) {
        put_text(text, " ");
        put_text(text, pairs[i]);
        free(pairs[i]);
    }
    (void)xmlTextReaderMoveToElement(reader);
}

static void ignore(void *data, xmlErrorPtr error)
{
    (void)data;
    (void)error;
}

static void put_doctype(muta_buffer *text, xmlDocPtr document)
{
    const xmlDtdPtr dtd = document ? xmlGetIntSubset(document) : NULL;

    put_text(text, "doctype ");
    put_text(text, dtd ? (const char *)dtd->ExternalID : NULL);
    put_text(text, " ");
    put_text(text, dtd ? (const char *)dtd->SystemID : NULL);
}

char *compare_events(const char *xml, size_t length)
{
    muta_buffer text = {0};
    int got;
    xmlDocPtr document = NULL;
    /* Two of the scores are called UTF-16 and are UTF-8; the label is not what is compared. */
    xmlTextReaderPtr const reader =
        xmlReaderForMemory(xml, (int)length, NULL, memcmp(xml, "\xef\xbb\xbf", 3) ? NULL : "UTF-8",
                           XML_PARSE_NONET | XML_PARSE_HUGE);

    xmlTextReaderSetStructuredErrorHandler(reader, ignore, NULL);
    while ((got = xmlTextReaderRead(reader)) == 1) {
        const int type = xmlTextReaderNodeType(reader);
        char head[16];
        (void)snprintf(head, sizeof head, "\n%d ", type);
        put_text(&text, head);
        if (type == XML_READER_TYPE_DOCUMENT_TYPE) {
            document = xmlTextReaderCurrentDoc(reader); /* ours to free from now on */
            put_doctype(&text, document);
            continue;
        }
        if (type == XML_READER_TYPE_END_ELEMENT)
            continue;
        put_text(&text, (const char *)xmlTextReaderConstName(reader));
        put_text(&text, " ");
        put_text(&text, (const char *)xmlTextReaderConstValue(reader));
        if (type == XML_READER_TYPE_ELEMENT) {
            const bool empty = xmlTextReaderIsEmptyElement(reader) == 1;
            put_attributes(&text, reader);
            if (empty) /* <a/> and <a></a> are the same */
                put_text(&text, "\n15 ");
        }
    }
    const bool tag_soup = got != 0;
    xmlFreeTextReader(reader);
    xmlFreeDoc(document);
    if (tag_soup) {
        free(text.at);
        return NULL;
    }
    return text.at;
}

char *compare_canonical(const char *xml, size_t length, size_t *canonical_length)
{
    xmlChar *made = NULL;

    xmlSetStructuredErrorFunc(NULL, ignore);
    const xmlDocPtr document =
        xmlReadMemory(xml, (int)length, NULL, NULL, XML_PARSE_NONET | XML_PARSE_HUGE);
    const int got =
        document ? xmlC14NDocDumpMemory(document, NULL, XML_C14N_1_0, NULL, 1, &made) : -1;
    xmlFreeDoc(document);
    xmlSetStructuredErrorFunc(NULL, NULL);
    *canonical_length = got > 0 ? (size_t)got : 0;
    return got > 0 ? (char *)made : NULL;
}

char *compare_node_text(const muta_tree *tree, muta_node node)
{
    muta_buffer text = {0};

    if (muta_tree_write_node(tree, node, (muta_sink){muta_buffer_write, &text}) != MUTA_OK)
        abort();
    return text.at;
}

struct pair {
    const muta_tree *a;
    const muta_tree *b;
    compare_counts *counts;
};

static bool is(const muta_tree *tree, muta_name name, const char *text)
{
    return strcmp(muta_tree_name_at(tree, name), text) == 0;
}

/* What kind of difference it is when an element of this name is there in one tree only. */
static compare_kind kind_of(const muta_tree *tree, muta_name name)
{
    static const struct {
        const char *name;
        compare_kind kind;
    } rows[] = {
        {"accidental", COMPARE_ACCIDENTAL},
        {"cancel", COMPARE_CANCEL},
        {"stem", COMPARE_STEM},
        {"tie", COMPARE_TIE},
        {"tied", COMPARE_TIE},
        {"slur", COMPARE_SPAN},
        {"fingering", COMPARE_TAKEN},
        {"string", COMPARE_TAKEN},
        {"fret", COMPARE_TAKEN},
        {"technical", COMPARE_TAKEN},
        {"notations", COMPARE_TAKEN},
        {"frame", COMPARE_TAKEN},
        {"clef", COMPARE_CLEF},
        {"sign", COMPARE_CLEF},
        {"line", COMPARE_CLEF},
        {"key", COMPARE_KEY},
        {"attributes", COMPARE_KEY},
    };

    for (size_t i = 0; i < MUTA_LENGTH(rows); i++)
        if (name && is(tree, name, rows[i].name))
            return rows[i].kind;
    return COMPARE_OTHER;
}

static void count(struct pair *pair, compare_kind kind, muta_node a, const char *what)
{
    compare_counts *const counts = pair->counts;
    const muta_name name = muta_tree_name(pair->a, a);

    if (kind == COMPARE_OTHER && counts->at[kind] == 0)
        (void)snprintf(counts->first_other, sizeof counts->first_other, "line %u, %s: %s",
                       (unsigned)muta_tree_at(pair->a, a)->line,
                       name ? muta_tree_name_at(pair->a, name) : "text", what);
    counts->at[kind]++;
}

static void compare_attributes(struct pair *pair, muta_node a, muta_node b)
{
    const muta_tree_node *const one = muta_tree_at(pair->a, a);

    for (uint32_t i = 0; i < one->attribute_count; i++) {
        const muta_attribute *const attribute =
            muta_tree_attribute_at(pair->a, one->attributes + i);
        const char *const name = muta_tree_name_at(pair->a, attribute->name);
        const char *other = NULL;
        const muta_tree_node *const two = muta_tree_at(pair->b, b);
        for (uint32_t j = 0; j < two->attribute_count; j++) {
            const muta_attribute *const of = muta_tree_attribute_at(pair->b, two->attributes + j);
            if (strcmp(muta_tree_name_at(pair->b, of->name), name) == 0)
                other = muta_tree_string_at(pair->b, of->value);
        }
        if (other && strcmp(other, muta_tree_string_at(pair->a, attribute->value)) == 0)
            continue;
        const size_t length = strlen(name);
        const bool height = length > 2 && strcmp(name + length - 2, "-y") == 0;
        const compare_kind kind = kind_of(pair->a, one->name);
        count(pair,
              height && !other                              ? COMPARE_HEIGHT
              : kind == COMPARE_TIE || kind == COMPARE_CLEF ? kind
                                                            : COMPARE_OTHER,
              a, name);
    }
    if (muta_tree_at(pair->b, b)->attribute_count > one->attribute_count)
        count(pair, COMPARE_OTHER, a, "an attribute too many");
}

static bool same_name(const struct pair *pair, muta_node a, muta_node b)
{
    const muta_name one = muta_tree_name(pair->a, a);
    const muta_name two = muta_tree_name(pair->b, b);

    return (one == 0) == (two == 0) &&
           (one == 0 || is(pair->a, one, muta_tree_name_at(pair->b, two)));
}

static bool same_string(const struct pair *pair, muta_string a, muta_string b)
{
    return strcmp(muta_tree_string_at(pair->a, a), muta_tree_string_at(pair->b, b)) == 0;
}

static void compare_nodes(struct pair *pair, muta_node a, muta_node b);

/* The next child that counts: `identification` is what a pass may rewrite. */
static muta_node counted(const muta_tree *tree, muta_node node)
{
    while (node && muta_tree_name(tree, node) == N_IDENTIFICATION)
        node = muta_tree_next(tree, node);
    return node;
}

/* Whether a child of the name of `one` still comes in b: then what stands before it was put in. */
static bool comes_later(const struct pair *pair, muta_node one, muta_node two)
{
    while (one && two && !same_name(pair, one, two))
        two = muta_tree_next(pair->b, two);
    return one && two;
}

/* `<alter>0</alter>` says what no alter says; a pitch that came back need not say it. */
static bool says_nothing(const muta_tree *tree, muta_node node)
{
    return node && muta_tree_name(tree, node) == N_ALTER && muta_names_leaf_is(tree, node, "0");
}

/* Two children of other names: one is gone or the other was put in. False: that is no patch. */
static bool step_over(struct pair *pair, muta_node a, muta_node *one, muta_node *two)
{
    if (says_nothing(pair->a, *one)) {
        *one = muta_tree_next(pair->a, *one);
        return true;
    }
    const compare_kind of_one =
        *one ? kind_of(pair->a, muta_tree_name(pair->a, *one)) : COMPARE_OTHER;
    const compare_kind of_two =
        *two ? kind_of(pair->b, muta_tree_name(pair->b, *two)) : COMPARE_OTHER;
    const bool put_in = comes_later(pair, *one, *two) && of_two != COMPARE_OTHER;

    if (*one && !put_in && (of_one != COMPARE_OTHER || !*two)) {
        count(pair, of_one, *one, "is gone");
        *one = muta_tree_next(pair->a, *one);
    } else if (*two && (of_two != COMPARE_OTHER || !*one)) {
        count(pair, of_two, a, "has a child more");
        *two = muta_tree_next(pair->b, *two);
    } else {
        count(pair, COMPARE_OTHER, *one, "is another");
        return false;
    }
    return true;
}

static void compare_children(struct pair *pair, muta_node a, muta_node b)
{
    muta_node one = counted(pair->a, muta_tree_first(pair->a, a));
    muta_node two = counted(pair->b, muta_tree_first(pair->b, b));

    while (one || two) {
        if (one && two && same_name(pair, one, two)) {
            compare_nodes(pair, one, two);
            one = muta_tree_next(pair->a, one);
            two = muta_tree_next(pair->b, two);
        } else if (!step_over(pair, a, &one, &two)) {
            return;
        }
        one = counted(pair->a, one);
        two = counted(pair->b, two);
    }
}

static void compare_nodes(struct pair *pair, muta_node a, muta_node b)
{
    const muta_tree_node *const one = muta_tree_at(pair->a, a);
    const muta_tree_node *const two = muta_tree_at(pair->b, b);

    if (!same_string(pair, one->text, two->text))
        count(pair, kind_of(pair->a, one->name), a, "holds another text");
    if (!same_string(pair, one->before, two->before) || !same_string(pair, one->tail, two->tail) ||
        one->kind != two->kind ||
        (!one->text && !one->child && !two->text && !two->child &&
         one->open_form != two->open_form))
        count(pair, kind_of(pair->a, one->name) == COMPARE_CLEF ? COMPARE_CLEF : COMPARE_OTHER, a,
              "is laid out otherwise");
    compare_attributes(pair, a, b);
    compare_children(pair, a, b);
}

compare_counts compare_trees(const muta_tree *a, const muta_tree *b)
{
    compare_counts counts = {{0}, ""};
    struct pair pair = {a, b, &counts};

    if (strcmp(muta_tree_string_at(a, a->prolog), muta_tree_string_at(b, b->prolog)) != 0 ||
        strcmp(muta_tree_string_at(a, a->epilog), muta_tree_string_at(b, b->epilog)) != 0)
        count(&pair, COMPARE_OTHER, a->root, "something outside the root changed");
    compare_nodes(&pair, a->root, b->root);
    return counts;
}

compare_counts compare_subtrees(const muta_tree *a, muta_node of_a, const muta_tree *b,
                                muta_node of_b)
{
    compare_counts counts = {{0}, ""};
    struct pair pair = {a, b, &counts};

    compare_nodes(&pair, of_a, of_b);
    return counts;
}

size_t compare_total(const compare_counts *counts)
{
    size_t total = 0;

    for (size_t i = 0; i < COMPARE_KINDS; i++)
        total += counts->at[i];
    return total;
}
