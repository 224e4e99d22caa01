/**
 * fraction.h: exact time. A fraction is a value in lowest terms, its denominator above 0; times are
 * in quarter notes. What overflows 64 bits becomes invalid (0/0), and every sum with it is invalid
 * too, as with a NaN; a forgotten {0} is invalid as well. Threads: any.
 */
#ifndef MUTANZA_FRACTION_H
#define MUTANZA_FRACTION_H

#include "mutanza/status.h"
#include <stdbool.h>
#include <stdint.h>

#ifdef __cplusplus
extern "C" {
#endif

typedef struct muta_fraction {
    int64_t top;
    int64_t bottom;
} muta_fraction;

#define MUTA_ZERO ((muta_fraction){0, 1})

/** top/bottom in lowest terms; invalid when bottom is 0 or the result does not fit. */
MUTA_API muta_fraction muta_fraction_of(int64_t top, int64_t bottom);
/** The sum; invalid when it does not fit or either is invalid. */
MUTA_API muta_fraction muta_fraction_add(muta_fraction a, muta_fraction b);
/** a less b; invalid when it does not fit or either is invalid. */
MUTA_API muta_fraction muta_fraction_subtract(muta_fraction a, muta_fraction b);
/** The product; invalid when it does not fit or either is invalid. */
MUTA_API muta_fraction muta_fraction_multiply(muta_fraction a, muta_fraction b);
/** a over b; invalid when b is 0, when it does not fit or either is invalid. */
MUTA_API muta_fraction muta_fraction_divide(muta_fraction a, muta_fraction b);
/** `times` times `a`. */
MUTA_API muta_fraction muta_fraction_scale(muta_fraction a, int64_t times);
/** Below 0, 0 or above 0 as a is less than, equal to or greater than b; invalid sorts first. */
MUTA_API int muta_fraction_compare(muta_fraction a, muta_fraction b);
/** Whether it holds a number at all. */
MUTA_API bool muta_fraction_is_valid(muta_fraction a);
/** The least common multiple of two numbers above 0; 0 when it does not fit. */
MUTA_API int64_t muta_common_multiple(int64_t a, int64_t b);
/** The later of two times. */
MUTA_API muta_fraction muta_fraction_max(muta_fraction a, muta_fraction b);
/** The earlier of two times. */
MUTA_API muta_fraction muta_fraction_min(muta_fraction a, muta_fraction b);

/** Room for the longest printed fraction. */
#define MUTA_FRACTION_TEXT 72
/** Prints `3`, `-1/2` or, when invalid, `?`. @param text [out] MUTA_FRACTION_TEXT bytes. */
MUTA_API const char *muta_fraction_print(muta_fraction a, char *text);
/** The same with the whole number apart, as beats are named: `1+1/2`. For values from 0. */
MUTA_API const char *muta_fraction_print_mixed(muta_fraction a, char *text);
/**
 * Reads `3`, `-3/2`, `2+1/2` or a plain decimal as in `1.25`; the whole text counts.
 * @param value [out] untouched on failure
 * @return MUTA_OK, or MUTA_E_RANGE when the text is something else or does not fit
 */
MUTA_API muta_status muta_fraction_parse(const char *text, muta_fraction *value) MUTA_CHECK;

#ifdef __cplusplus
}
#endif

#endif
