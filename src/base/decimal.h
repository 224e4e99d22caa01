/* decimal.h: numbers with a point, read and written without the locale. */
#ifndef BASE_DECIMAL_H
#define BASE_DECIMAL_H

#include "base/text.h"
#include "mutanza/fraction.h"

/* Reads [+-]digits[.digits]; returns what stands behind, NULL when it is no number or too long. */
const char *muta_text_decimal(const char *at, muta_fraction *value);
/* All of a text as one decimal number; false when it is none, or longer than 39 characters. */
bool muta_text_number(muta_text text, muta_fraction *value);
/* A number as a decimal with six places at most, without a nought at their end; false when it needs
 * more. @param text  for 32 characters */
bool muta_text_print_number(muta_fraction value, char *text);

#endif
