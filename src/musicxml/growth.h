/*
 * growth.h: a tree that grows from events. The parser writes them down one behind the other; what
 * grows from them may so be made beside the parsing.
 *
 *     libxml2 ── parse.c ── events ── growth.c ── tree
 */
#ifndef MUSICXML_GROWTH_H
#define MUSICXML_GROWTH_H

#include "base/tree.h"

typedef enum {
    MUTA_EVENT_START,
    MUTA_EVENT_END,
    MUTA_EVENT_TEXT, /* character data, which may come in pieces */
    MUTA_EVENT_CDATA,
    MUTA_EVENT_COMMENT,
    MUTA_EVENT_INSTRUCTION,
} muta_event_kind;

/*
 * An event begins with a word: its kind, and what else it says in few bits. Events are small, since
 * each goes from one core to another. Behind the word come, unaligned:
 *
 *     start        its line; the address of its name, and of the prefix, if it has one; of each
 *                  namespace prefix and URI; each attribute's name as the element's, the length of
 *                  its value, with a bit for a prefix, and the value; an odd tag's length and the
 *                  tag as it was read
 *     instruction  the address of its target, then its text, of so many bytes
 *     end          nothing
 *     others       so many bytes of text
 *
 * Names have one address as long as the parser lives.
 */
typedef struct muta_event_word {
    unsigned kind : 3; /* a muta_event_kind */
    unsigned rest : 29;
} muta_event_word;

enum {
    MUTA_EVENT_LONGEST = (1 << 29) - 1, /* bytes of text */
    /* what the rest of a start's word says, besides the count of attributes and, above it, that of
     * namespaces */
    MUTA_START_COUNT = 0xff,
    MUTA_START_SHIFT = 8,
    MUTA_START_OPEN = 1 << 16, /* it is not written in the short form of what is empty */
    MUTA_START_PREFIX = 1 << 17,
    MUTA_START_ODD = 1 << 18, /* it is laid out in a way of its own */
};

/* How long the value of an attribute is. */
typedef struct muta_event_value {
    unsigned has_prefix : 1;
    unsigned length : 31;
} muta_event_value;

/* A name with its prefix, which may be NULL. */
typedef struct muta_event_name {
    const char *local;
    const char *prefix;
} muta_event_name;

typedef struct muta_growth muta_growth;

/* NULL when memory runs out. Borrows: tree. */
muta_growth *muta_growth_new(muta_tree *tree);
/* Lets the tree grow from whole events, no deeper than MUTA_LIMIT_DEPTH. */
muta_status muta_growth_feed(muta_growth *growth, const char *at, size_t length) MUTA_CHECK;
void muta_growth_free(muta_growth *growth);

#endif
