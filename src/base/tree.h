/*
 * tree.h: an XML document in few bytes. Nodes are 32 bytes with 32-bit links, every name, text and
 * run of white space is stored once:
 *
 *     element ── child ── next ── next        before   white space before the node
 *        │         │                          text     of a leaf, a comment, an instruction
 *      text      child ...                    tail     white space before the end tag
 *
 * Knows no element's meaning.
 */
#ifndef BASE_TREE_H
#define BASE_TREE_H

#include "base/text.h"
#include "base/vec.h"
#include "mutanza/status.h"
#include <stdbool.h>
#include <stdint.h>

typedef uint32_t muta_node;   /* 0: none */
typedef uint32_t muta_string; /* 0: the empty text */
typedef uint16_t muta_name;   /* 0: none */

typedef enum {
    MUTA_ELEMENT,
    MUTA_TEXT,
    MUTA_CDATA,
    MUTA_COMMENT,
    MUTA_INSTRUCTION, /* its name is the target */
} muta_node_kind;

typedef struct muta_tree_node {
    muta_node next;
    muta_node child;
    muta_string text;
    muta_string before;
    muta_string tail;
    uint32_t attributes; /* the first of them in the pool */
    uint32_t line : 30;
    uint32_t open_form : 1; /* an empty element that was written <a></a> */
    uint32_t odd_tag : 1;   /* its start tag is laid out in a way of its own, and unchanged */
    muta_name name;
    uint8_t attribute_count;
    uint8_t kind; /* a muta_node_kind */
} muta_tree_node;

typedef struct muta_attribute {
    muta_string value;
    muta_name name;
} muta_attribute;

enum {
    MUTA_TREE_CHUNK = 1024
};

typedef struct muta_tree_string {
    const char *at;
    uint32_t length;
    uint32_t hash;
    muta_name name; /* the name that it is, or 0 */
    bool plain;     /* nothing in it is ever written as a reference */
} muta_tree_string;

typedef struct muta_odd_tag {
    muta_node node;
    muta_string text; /* from the < to before the > or /> */
} muta_odd_tag;

/* Items in chunks of MUTA_TREE_CHUNK, by their ids. */
typedef struct muta_tree_store {
    MUTA_VEC(void *) chunks;
    uint32_t next; /* of the ids that are left of a chunk, */
    uint32_t end;
} muta_tree_store;

typedef struct muta_tree {
    muta_arena arena;           /* of the nodes and texts */
    muta_arena index;           /* of all that leads to them */
    muta_tree_store nodes;      /* of muta_tree_node */
    muta_tree_store attributes; /* of muta_attribute; no element's run crosses an edge */
    MUTA_VEC(muta_tree_string) strings;
    muta_string *slots; /* a hash table, open addressing; its size is a power of two */
    size_t slot_count;
    MUTA_VEC(muta_string) names;
    MUTA_VEC(muta_odd_tag) odd_tags; /* in order of their nodes */
    muta_node root;
    muta_string prolog; /* all before the root, as read */
    muta_string epilog; /* all behind it */
    bool crlf;          /* every line ended with CR LF */
    bool quot_escaped;  /* in text, the quotation mark came as a reference */
    bool apos_escaped;
} muta_tree;

/* Makes an empty tree whose first names are these; their ids are 1 ... count. */
muta_status muta_tree_init(muta_tree *tree, const char *const *names, size_t count) MUTA_CHECK;
/* Gives all of it back. */
void muta_tree_clear(muta_tree *tree);

/* One more than the highest id that a node has. */
static inline muta_node muta_tree_end(const muta_tree *tree)
{
    return tree->nodes.next;
}

/* The id of this text, which is stored once. */
muta_status muta_tree_intern(muta_tree *tree, const char *at, size_t length,
                             muta_string *string) MUTA_CHECK;
/* The id of this name; MUTA_E_RANGE when there are 65,535 already. */
muta_status muta_tree_intern_name(muta_tree *tree, const char *at, size_t length,
                                  muta_name *name) MUTA_CHECK;
/* The text of an id, terminated. Borrows: tree. */
static inline const char *muta_tree_string_at(const muta_tree *tree, muta_string string)
{
    return tree->strings.at[string].at;
}
static inline const char *muta_tree_name_at(const muta_tree *tree, muta_name name)
{
    return muta_tree_string_at(tree, tree->names.at[name]);
}

static inline muta_tree_node *muta_tree_at(const muta_tree *tree, muta_node node)
{
    muta_tree_node *const chunk = tree->nodes.chunks.at[node / MUTA_TREE_CHUNK];

    return &chunk[node % MUTA_TREE_CHUNK];
}
static inline muta_attribute *muta_tree_attribute_at(const muta_tree *tree, uint32_t index)
{
    muta_attribute *const chunk = tree->attributes.chunks.at[index / MUTA_TREE_CHUNK];

    return &chunk[index % MUTA_TREE_CHUNK];
}
static inline muta_node muta_tree_next(const muta_tree *tree, muta_node node)
{
    return muta_tree_at(tree, node)->next;
}
static inline muta_node muta_tree_first(const muta_tree *tree, muta_node node)
{
    return muta_tree_at(tree, node)->child;
}
/* The name of an element, 0 of any other node. */
static inline muta_name muta_tree_name(const muta_tree *tree, muta_node node)
{
    const muta_tree_node *const at = muta_tree_at(tree, node);
    return at->kind == MUTA_ELEMENT ? at->name : 0;
}

/* A new node that hangs nowhere yet. */
muta_status muta_tree_add(muta_tree *tree, muta_node_kind kind, muta_name name,
                          muta_node *node) MUTA_CHECK;
/* Gives `node`, which has none yet, `count` attributes to be filled in. */
muta_status muta_tree_add_attributes(muta_tree *tree, muta_node node, size_t count,
                                     muta_attribute **attributes) MUTA_CHECK;
/* Keeps the start tag of the newest node as it was read. */
muta_status muta_tree_keep_tag(muta_tree *tree, muta_node node, const char *at,
                               size_t length) MUTA_CHECK;
/* The value of an attribute, NULL when absent. Borrows: tree. */
const char *muta_tree_attribute(const muta_tree *tree, muta_node node, muta_name name);
/* Sets an attribute, put in last when it was absent. */
muta_status muta_tree_set_attribute(muta_tree *tree, muta_node node, muta_name name,
                                    const char *value) MUTA_CHECK;
/* Takes an attribute off, if it is there. */
void muta_tree_drop_attribute(muta_tree *tree, muta_node node, muta_name name);
/* The first child element of this name, 0 when there is none. */
muta_node muta_tree_child(const muta_tree *tree, muta_node parent, muta_name name);
/* The text of a leaf, without white space at its ends. Borrows: tree. */
muta_text muta_tree_leaf(const muta_tree *tree, muta_node node);
/* The same as an id, its white space left on. */
muta_string muta_tree_leaf_string(const muta_tree *tree, muta_node node);
/* A text without white space at its ends. Borrows: tree. */
muta_text muta_tree_trimmed(const muta_tree *tree, muta_string string);
/* Replaces the text of a leaf. */
muta_status muta_tree_set_text(muta_tree *tree, muta_node node, const char *text) MUTA_CHECK;
/* Hangs `node` below `parent`, behind `after` (0: first). */
void muta_tree_insert(muta_tree *tree, muta_node parent, muta_node after, muta_node node);
/* Takes `node` out from below `parent`. */
void muta_tree_remove(muta_tree *tree, muta_node parent, muta_node node);
/* The same for a node that is known to stand somewhere behind the child `after` (0: behind none).
 */
void muta_tree_remove_after(muta_tree *tree, muta_node parent, muta_node after, muta_node node);

/* Where bytes go; a failure ends the writing. */
typedef struct muta_sink {
    muta_status (*write)(void *to, const char *at, size_t length);
    void *to;
} muta_sink;

/* Writes the document as UTF-8; `nodes`, if not NULL, gets the number of nodes written. */
muta_status muta_tree_write(const muta_tree *tree, muta_sink sink, size_t *nodes) MUTA_CHECK;
/* Writes one node with all below it. */
muta_status muta_tree_write_node(const muta_tree *tree, muta_node node, muta_sink sink) MUTA_CHECK;

#endif
