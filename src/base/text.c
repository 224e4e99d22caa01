/* text.c: text and numbers, without the locale. */
#include "base/text.h"
#include <string.h>

static char lower(char c)
{
    if (c < 'A' || c > 'Z')
        return c;
    return (char)(c | 0x20); /* in ASCII the cases differ in one bit */
}

static bool blank(char c)
{
    return c == ' ' || c == '\t' || c == '\n' || c == '\r';
}

const char *muta_text_digits(const char *at, int64_t *value, int *count)
{
    for (*count = 0; *at >= '0' && *at <= '9'; at++, (*count)++)
        if (__builtin_mul_overflow(*value, 10, value) ||
            __builtin_add_overflow(*value, *at - '0', value))
            return NULL;
    return at;
}

const char *muta_text_count(const char *at, int64_t *value)
{
    int64_t number = 0;
    int count = 0;

    at = muta_text_digits(at, &number, &count);
    if (!at || count == 0)
        return NULL;
    *value = number;
    return at;
}

bool muta_text_begins(const char *text, const char *start)
{
    for (; *start; text++, start++)
        if (lower(*text) != lower(*start))
            return false;
    return true;
}

const char *muta_text_print(int64_t value, char *text)
{
    uint64_t left = value < 0 ? 0 - (uint64_t)value : (uint64_t)value;
    char *end = text + (value < 0);

    for (uint64_t rest = left; rest >= 10; rest /= 10)
        end++;
    end[1] = '\0';
    for (; end >= text + (value < 0); left /= 10)
        *end-- = (char)('0' + left % 10);
    if (value < 0)
        *text = '-';
    return text;
}

bool muta_text_alike(const char *a, const char *b)
{
    return strlen(a) == strlen(b) && muta_text_begins(a, b);
}

/* Damerau's distance with adjacent swaps, three rows; longer words are never near. */
size_t muta_text_distance(const char *a, const char *b)
{
    enum {
        LONGEST = 48
    };
    const size_t rows = strlen(a);
    const size_t columns = strlen(b);
    size_t before[LONGEST + 1] = {0};
    size_t above[LONGEST + 1];
    size_t here[LONGEST + 1];

    if (rows > LONGEST || columns > LONGEST)
        return 255;
    for (size_t j = 0; j <= columns; j++)
        above[j] = j;
    for (size_t i = 1; i <= rows; i++) {
        here[0] = i;
        for (size_t j = 1; j <= columns; j++) {
            const size_t same = lower(a[i - 1]) == lower(b[j - 1]) ? 0 : 1;
            size_t best = above[j - 1] + same;
            best = above[j] + 1 < best ? above[j] + 1 : best;
            best = here[j - 1] + 1 < best ? here[j - 1] + 1 : best;
            if (i > 1 && j > 1 && lower(a[i - 1]) == lower(b[j - 2]) &&
                lower(a[i - 2]) == lower(b[j - 1]) && before[j - 2] + 1 < best)
                best = before[j - 2] + 1;
            here[j] = best;
        }
        memcpy(before, above, sizeof before);
        memcpy(above, here, sizeof above);
    }
    return above[columns];
}

const char *muta_text_nearest(const char *word, const void *names, size_t count,
                              const char *(*name)(const void *names, size_t i))
{
    const char *nearest = NULL;
    size_t best = strlen(word) / 2 + 2; /* farther than this it is another word, not a slip */

    for (size_t i = 0; i < count; i++) {
        const char *const candidate = name(names, i);
        const size_t distance = muta_text_distance(word, candidate);
        if (distance < best) {
            best = distance;
            nearest = candidate;
        }
    }
    return nearest;
}

bool muta_text_is_blank(const char *at, size_t length)
{
    for (size_t i = 0; i < length; i++)
        if (!blank(at[i]))
            return false;
    return true;
}

muta_text muta_text_trim(muta_text text)
{
    while (text.length > 0 && blank(text.at[0])) {
        text.at++;
        text.length--;
    }
    while (text.length > 0 && blank(text.at[text.length - 1]))
        text.length--;
    return text;
}
