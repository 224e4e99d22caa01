/* json.h: writes JSON, with commas and line ends where they belong. */
#ifndef BASE_JSON_H
#define BASE_JSON_H

#include "base/buffer.h"
#include "mutanza/fraction.h"
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
void muta_json_count(muta_json *json, const char *key, int64_t value);
void muta_json_flag(muta_json *json, const char *key, bool value);
/* A number of `parts` to the whole, with six decimals where they are needed. */
void muta_json_share(muta_json *json, const char *key, int64_t value, int64_t parts);
/* A time in quarters; where that is no whole number also exactly, under "at". */
void muta_json_time(muta_json *json, const char *key, muta_fraction time);
/* MUTA_E_MEMORY when anything before failed for want of it; then nothing is to be freed. */
muta_status muta_json_end(muta_json *json) MUTA_CHECK;

#endif
