/** schema.h: XML Schemas, and whether a document satisfies one. Nothing is fetched for it. */
#ifndef MUTANZA_SCHEMA_H
#define MUTANZA_SCHEMA_H

#include "mutanza/diag.h"

#ifdef __cplusplus
extern "C" {
#endif

/** A compiled schema. Owner: whoever read it. Threads: one at a time. */
typedef struct muta_schema muta_schema;

/**
 * Compiles an XSD. What it imports is looked for beside it, by the last part of its address.
 * @param schema  [out] the caller's; untouched on failure
 * @return MUTA_OK, MUTA_E_NO_INPUT, MUTA_E_DATA when it is no schema, or MUTA_E_MEMORY
 */
MUTA_API muta_status muta_schema_read(const char *path, muta_schema **schema,
                                      muta_diags *diags) MUTA_CHECK;
/** Ends it. Takes NULL. */
MUTA_API void muta_schema_free(muta_schema *schema);
/**
 * Whether a document of `length` bytes satisfies the schema.
 * @param diags  gets the first thing that does not; may be NULL
 * @return MUTA_OK when it is valid, MUTA_E_DATA when not
 */
MUTA_API muta_status muta_schema_check(const muta_schema *schema, const char *at, size_t length,
                                       muta_diags *diags) MUTA_CHECK;

#ifdef __cplusplus
}
#endif

#endif
