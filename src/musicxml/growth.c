/* growth.c: from what the parser reads to a tree. */
#include "musicxml/growth.h"
#include "base/buffer.h"
#include "base/text.h"
#include "mutanza/limits.h"
#include <stdlib.h>
#include <string.h>

enum {
    NAME_BITS = 10,
    NAME_SLOTS = 1 << NAME_BITS,
    BLANK_SLOTS = 128
};

/* The same name has the same address, so it is looked up once. */
struct name_slot {
    muta_growth_name at;
    muta_name name;
};

struct level {
    muta_node node;
    muta_node last; /* its last child so far */
};

struct muta_growth {
    muta_tree *tree;
    struct level stack[MUTA_LIMIT_DEPTH + 1];
    size_t depth;
    uint32_t line;    /* of the last element */
    muta_buffer held; /* character data not yet given to a node */
    bool in_cdata;    /* the last node is CDATA, which comes in pieces */
    struct name_slot slots[NAME_SLOTS];
    muta_string blanks[BLANK_SLOTS]; /* the last white space of each length */
};

static void hang(muta_growth *growth, muta_node node)
{
    struct level *const level = &growth->stack[growth->depth];

    muta_tree_at(growth->tree, node)->line = growth->line & 0x3fffffffu;
    if (growth->depth > 0)
        muta_tree_insert(growth->tree, level->node, level->last, node);
    level->last = node;
}

/* Half of all text is white space of a few lengths, seen before. */
static muta_string known_blank(const muta_growth *growth)
{
    const muta_buffer *const held = &growth->held;
    const muta_string blank = growth->blanks[held->length % BLANK_SLOTS];
    const muta_tree_string *const known = &growth->tree->strings.at[blank];

    return blank && known->length == held->length && memcmp(known->at, held->at, held->length) == 0
               ? blank
               : 0;
}

/* Character data before a node: white space stays with the node, other text is a node itself. */
static muta_status flush(muta_growth *growth, muta_string *blank)
{
    muta_node node;
    muta_buffer *const held = &growth->held;

    *blank = 0;
    growth->in_cdata = false;
    if (held->length == 0)
        return MUTA_OK;
    *blank = known_blank(growth);
    if (*blank) {
        held->length = 0;
        return MUTA_OK;
    }
    if (muta_text_is_blank(held->at, held->length)) {
        MUTA_TRY(muta_tree_intern(growth->tree, held->at, held->length, blank));
        growth->blanks[held->length % BLANK_SLOTS] = *blank;
    } else {
        MUTA_TRY(muta_tree_add(growth->tree, MUTA_TEXT, 0, &node));
        MUTA_TRY(muta_tree_intern(growth->tree, held->at, held->length,
                                  &muta_tree_at(growth->tree, node)->text));
        hang(growth, node);
    }
    held->length = 0;
    return MUTA_OK;
}

static muta_status qualified(muta_growth *growth, const muta_growth_name *of, muta_name *name)
{
    char both[256];
    const size_t head = of->prefix ? strlen(of->prefix) : 0;
    const size_t tail = strlen(of->local);

    if (!of->prefix)
        return muta_tree_intern_name(growth->tree, of->local, tail, name);
    if (head + tail + 1 > sizeof both)
        return MUTA_E_RANGE;
    memcpy(both, of->prefix, head);
    both[head] = ':';
    memcpy(both + head + 1, of->local, tail);
    return muta_tree_intern_name(growth->tree, both, head + tail + 1, name);
}

static muta_status name_of(muta_growth *growth, const muta_growth_name *of, muta_name *name)
{
    const uint64_t mixed = ((uint64_t)(uintptr_t)of->local + (uint64_t)(uintptr_t)of->prefix * 31) *
                           UINT64_C(0x9e3779b97f4a7c15);
    struct name_slot *const slot = &growth->slots[mixed >> (64 - NAME_BITS)];

    if (slot->at.local != of->local || slot->at.prefix != of->prefix || !slot->name) {
        MUTA_TRY(qualified(growth, of, &slot->name));
        slot->at = *of;
    }
    *name = slot->name;
    return MUTA_OK;
}

/* Without entity substitution libxml2 leaves the ampersand in an attribute as `&#38;`. */
static muta_status intern_value(muta_tree *tree, const char *at, size_t length, muta_string *value)
{
    static const char reference[] = "&#38;";
    enum {
        REFERENCE = sizeof reference - 1
    };

    if (!memchr(at, '&', length))
        return muta_tree_intern(tree, at, length, value);
    char *const plain = malloc(length);
    size_t used = 0;
    if (!plain)
        return MUTA_E_MEMORY;
    for (size_t i = 0; i < length; i++) {
        plain[used++] = at[i];
        if (length - i >= REFERENCE && memcmp(at + i, reference, REFERENCE) == 0)
            i += REFERENCE - 1;
    }
    const muta_status status = muta_tree_intern(tree, plain, used, value);
    free(plain);
    return status;
}

static muta_status add_attributes(muta_growth *growth, const muta_start_tag *tag, muta_node node)
{
    muta_attribute *attribute;

    if (tag->count == 0)
        return MUTA_OK;
    MUTA_TRY(muta_tree_add_attributes(growth->tree, node, tag->count, &attribute));
    for (size_t i = 0; i < tag->count; i++, attribute++) {
        const muta_growth_attribute *const of = &tag->attributes[i];
        MUTA_TRY(name_of(growth, &of->name, &attribute->name));
        MUTA_TRY(intern_value(growth->tree, of->value.at, of->value.length, &attribute->value));
    }
    return MUTA_OK;
}

muta_status muta_growth_start(muta_growth *growth, const muta_start_tag *tag)
{
    muta_string blank;
    muta_name name;
    muta_node node;

    if (growth->depth == MUTA_LIMIT_DEPTH)
        return MUTA_E_RANGE;
    growth->line = tag->line;
    MUTA_TRY(flush(growth, &blank));
    MUTA_TRY(name_of(growth, &tag->name, &name));
    MUTA_TRY(muta_tree_add(growth->tree, MUTA_ELEMENT, name, &node));
    muta_tree_at(growth->tree, node)->before = blank;
    muta_tree_at(growth->tree, node)->open_form = tag->is_open;
    hang(growth, node);
    if (growth->depth == 0)
        growth->tree->root = node;
    growth->stack[++growth->depth] = (struct level){.node = node};
    MUTA_TRY(add_attributes(growth, tag, node));
    return tag->odd.at ? muta_tree_keep_tag(growth->tree, node, tag->odd.at, tag->odd.length)
                       : MUTA_OK;
}

muta_status muta_growth_end(muta_growth *growth)
{
    const muta_node node = growth->stack[growth->depth].node;
    muta_tree_node *const at = muta_tree_at(growth->tree, node);
    muta_buffer *const held = &growth->held;
    muta_string blank;

    growth->in_cdata = false;
    if (!at->child) {
        MUTA_TRY(muta_tree_intern(growth->tree, held->at, held->length, &at->text));
        held->length = 0;
    } else {
        MUTA_TRY(flush(growth, &blank));
        muta_tree_at(growth->tree, node)->tail = blank;
    }
    growth->depth--;
    return MUTA_OK;
}

static muta_status add_other(muta_growth *growth, muta_node_kind kind, const char *target,
                             const char *text, size_t length)
{
    const muta_growth_name said = {.local = target};
    muta_string blank;
    muta_node node;
    muta_name name = 0;

    MUTA_TRY(flush(growth, &blank));
    if (target)
        MUTA_TRY(qualified(growth, &said, &name));
    MUTA_TRY(muta_tree_add(growth->tree, kind, name, &node));
    muta_tree_at(growth->tree, node)->before = blank;
    MUTA_TRY(muta_tree_intern(growth->tree, text, length, &muta_tree_at(growth->tree, node)->text));
    hang(growth, node);
    return MUTA_OK;
}

muta_status muta_growth_cdata(muta_growth *growth, const char *text, size_t length)
{
    if (!growth->in_cdata) {
        MUTA_TRY(add_other(growth, MUTA_CDATA, NULL, text, length));
        growth->in_cdata = true;
        return MUTA_OK;
    }
    muta_tree_node *const node = muta_tree_at(growth->tree, growth->stack[growth->depth].last);
    muta_buffer all = {0};
    muta_status status = muta_buffer_put(&all, growth->tree->strings.at[node->text].at,
                                         growth->tree->strings.at[node->text].length);
    if (status == MUTA_OK)
        status = muta_buffer_put(&all, text, length);
    if (status == MUTA_OK)
        status = muta_tree_intern(growth->tree, all.at, all.length, &node->text);
    free(all.at);
    return status;
}

muta_status muta_growth_text(muta_growth *growth, const char *at, size_t length)
{
    growth->in_cdata = false;
    return muta_buffer_put(&growth->held, at, length);
}

muta_status muta_growth_aside(muta_growth *growth, const char *target, const char *at,
                              size_t length)
{
    return add_other(growth, target ? MUTA_INSTRUCTION : MUTA_COMMENT, target, at, length);
}

muta_growth *muta_growth_new(muta_tree *tree)
{
    muta_growth *const growth = calloc(1, sizeof *growth);

    if (growth)
        growth->tree = tree;
    return growth;
}

void muta_growth_free(muta_growth *growth)
{
    if (!growth)
        return;
    free(growth->held.at);
    free(growth);
}
