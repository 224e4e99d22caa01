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
 * What an event begins with. Behind it come, unaligned: of a start its name, `namespaces` times a
 * name (prefix and URI), `attributes` times a muta_event_attribute with its value's bytes, and
 * `length` bytes of the tag as it was read, where it is laid out oddly; of an instruction its
 * target; of the others `length` bytes of text.
 */
typedef struct muta_event_head {
    uint32_t length;
    uint32_t line;
    uint8_t kind; /* a muta_event_kind */
    uint8_t namespaces;
    uint8_t attributes;
    bool open_form;
} muta_event_head;

/* Texts of the parser's, each of which has one address as long as that lives; prefix may be NULL.
 */
typedef struct muta_event_name {
    const char *local;
    const char *prefix;
} muta_event_name;

typedef struct muta_event_attribute {
    muta_event_name name;
    uint32_t length; /* of its value */
} muta_event_attribute;

typedef struct muta_growth muta_growth;

/* NULL when memory runs out. Borrows: tree. */
muta_growth *muta_growth_new(muta_tree *tree);
/* Lets the tree grow from whole events, no deeper than MUTA_LIMIT_DEPTH. */
muta_status muta_growth_feed(muta_growth *growth, const char *at, size_t length) MUTA_CHECK;
void muta_growth_free(muta_growth *growth);

#endif
