/* text.h: text and numbers, without the locale. */
#ifndef BASE_TEXT_H
#define BASE_TEXT_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* A view of UTF-8 that is not terminated. */
typedef struct muta_text {
    const char *at;
    size_t length;
} muta_text;

/* Reads the digits at `at`; returns what stands behind them, NULL when none or too many. */
const char *muta_text_count(const char *at, int64_t *value);
/* Appends the digits at `at` to `value`, counting them; NULL when they are too many. */
const char *muta_text_digits(const char *at, int64_t *value, int *count);
/* Writes a number in digits, in 24 bytes; returns `text`. */
const char *muta_text_print(int64_t value, char *text);
/* Whether two texts are the same, ASCII case ignored. */
bool muta_text_alike(const char *a, const char *b);
/* Whether `text` begins with `start`, ASCII case ignored. */
bool muta_text_begins(const char *text, const char *start);
/* How many letters to put in, take out, change or swap to make one of the other; at most 255. */
size_t muta_text_distance(const char *a, const char *b);
/* The entry nearest to `word`: `name(names, i)` gives the i-th of `count`; NULL when none is near.
 */
const char *muta_text_nearest(const char *word, const void *names, size_t count,
                              const char *(*name)(const void *names, size_t i));
/* Whether the bytes are all XML white space. */
bool muta_text_is_blank(const char *at, size_t length);
/* The view without XML white space at its ends. */
muta_text muta_text_trim(muta_text text);

#endif
