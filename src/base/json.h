/* json.h: writes JSON, with commas and line ends where they belong. */
#ifndef BASE_JSON_H
#define BASE_JSON_H

#include "base/buffer.h"
#include <stdbool.h>

typedef struct muta_json {
    muta_buffer text; /* so far */
    int depth;
    bool comma; /* something stands before in this array or object */
    bool failed;
} muta_json;

/* `key` is NULL inside an array and for the whole. */
void muta_json_open(muta_json *json, const char *key, char bracket);
void muta_json_close(muta_json *json, char bracket);
void muta_json_text(muta_json *json, const char *key, const char *value);
/* MUTA_E_MEMORY when anything before failed for want of it; then nothing is to be freed. */
muta_status muta_json_end(muta_json *json) MUTA_CHECK;

#endif
