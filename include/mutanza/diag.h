/**
 * diag.h: what is wrong, where, and what to do. Errors, warnings and findings are one struct; the
 * library never prints them.
 */
#ifndef MUTANZA_DIAG_H
#define MUTANZA_DIAG_H

#include "mutanza/fraction.h"
#include <stddef.h>

#ifdef __cplusplus
extern "C" {
#endif

typedef enum {
    MUTA_ERROR,
    MUTA_WARNING,
    MUTA_NOTE
} muta_severity;

/** Where in a score; what is not known is NULL, invalid or 0. */
typedef struct muta_place {
    const char *part;   /**< the part's name */
    const char *bar;    /**< the printed bar number */
    muta_fraction beat; /**< from 1, in the metre's denominators */
    long line;          /**< of the XML, from 1 */
} muta_place;

#define MUTA_NOWHERE ((muta_place){.beat = {0, 0}})

typedef struct muta_diag {
    muta_severity severity;
    const char *kind; /**< the message before its values went in: alike for alike warnings */
    muta_place place;
    const char *message;
} muta_diag;

/** What a run of calls had to say, in order. Owner: whoever called new. */
typedef struct muta_diags muta_diags;

/** An empty list; NULL when memory runs out. */
MUTA_API muta_diags *muta_diags_new(void);
/** Ends the list and every text in it. Takes NULL. */
MUTA_API void muta_diags_free(muta_diags *diags);
/** How many there are of this severity. */
MUTA_API size_t muta_diags_count(const muta_diags *diags, muta_severity severity);
/** The nth of all, in order; NULL past the last. Borrows: diags. */
MUTA_API const muta_diag *muta_diags_at(const muta_diags *diags, size_t nth);
/**
 * Adds one; texts are copied. When memory runs out it is lost, as the caller's status will say.
 * @param diags  may be NULL: then nothing is kept
 * @param format a literal, as for printf; it also tells kinds apart
 */
MUTA_API void muta_diag_add(muta_diags *diags, muta_severity severity, muta_place place,
                            const char *format, ...) MUTA_PRINTF(4, 5);

#ifdef __cplusplus
}
#endif

#endif
