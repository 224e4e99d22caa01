/*
 * growth.h: a tree that grows as the parser reads.
 *
 *     libxml2 ── parse.c ── growth.c ── tree
 */
#ifndef MUSICXML_GROWTH_H
#define MUSICXML_GROWTH_H

#include "base/tree.h"

/* A name with its prefix, which may be NULL. Both have one address as long as the parser lives. */
typedef struct muta_growth_name {
    const char *local;
    const char *prefix;
} muta_growth_name;

/* An attribute, with a value in which an ampersand may still be a reference. */
typedef struct muta_growth_attribute {
    muta_growth_name name;
    muta_text value;
} muta_growth_attribute;

/* A start tag as it was read. */
typedef struct muta_start_tag {
    muta_growth_name name;
    uint32_t line;
    bool is_open; /* not written in the short form of what is empty */
    size_t count;
    const muta_growth_attribute *attributes; /* namespaces first */
    muta_text odd; /* the tag, where it is laid out in a way of its own; at is NULL elsewhere */
} muta_start_tag;

typedef struct muta_growth muta_growth;

/* NULL when memory runs out. Borrows: tree. */
muta_growth *muta_growth_new(muta_tree *tree);
void muta_growth_free(muta_growth *growth);

/* An element begins, no deeper than MUTA_LIMIT_DEPTH. */
muta_status muta_growth_start(muta_growth *growth, const muta_start_tag *tag) MUTA_CHECK;
/* It ends. */
muta_status muta_growth_end(muta_growth *growth) MUTA_CHECK;
/* Character data, which may come in pieces. */
muta_status muta_growth_text(muta_growth *growth, const char *at, size_t length) MUTA_CHECK;
/* The same in a CDATA section. */
muta_status muta_growth_cdata(muta_growth *growth, const char *at, size_t length) MUTA_CHECK;
/* An instruction, or with a target of NULL a comment. */
muta_status muta_growth_aside(muta_growth *growth, const char *target, const char *at,
                              size_t length) MUTA_CHECK;

#endif
