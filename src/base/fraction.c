/* fraction.c: exact fractions in 64 bits. */
#include "mutanza/fraction.h"
#include "base/decimal.h"
#include "base/text.h"
#include <inttypes.h>
#include <stdio.h>
#include <string.h>

__extension__ typedef __int128 wide;

static const muta_fraction invalid = {0, 0};

/* Times are small numbers nearly always, and these are divided faster in 32 bits. */
static int64_t small_gcd(uint32_t a, uint32_t b)
{
    while (b != 0) {
        const uint32_t rest = a % b;
        a = b;
        b = rest;
    }
    return a;
}

/* How many times a number above 0 can be halved, no more often than another. */
static int halvings(int64_t a, int64_t b)
{
    const int of_a = a == 0 ? 63 : __builtin_ctzll((unsigned long long)a);
    const int of_b = __builtin_ctzll((unsigned long long)b);

    return of_a < of_b ? of_a : of_b;
}

static bool is_power_of_two(int64_t a)
{
    return a > 0 && (a & (a - 1)) == 0;
}

static int64_t gcd(int64_t a, int64_t b)
{
    const int64_t size = a < 0 ? -a : a;

    if (is_power_of_two(b))
        return (int64_t)1 << halvings(a, b);
    if (((size | b) >> 32) == 0)
        return small_gcd((uint32_t)size, (uint32_t)b);
    while (b != 0) {
        const int64_t rest = a % b;
        a = b;
        b = rest;
    }
    return a < 0 ? -a : a;
}

bool muta_fraction_is_valid(muta_fraction a)
{
    return a.bottom > 0;
}

muta_fraction muta_fraction_of(int64_t top, int64_t bottom)
{
    /* The smallest number has no opposite, so the gcd of it could not be told. */
    if (bottom == 0 || top == INT64_MIN || bottom == INT64_MIN)
        return invalid;
    if (bottom < 0) {
        top = -top;
        bottom = -bottom;
    }
    /* Halves, quarters, eighths: shifted exactly, which is faster than divided. */
    if (is_power_of_two(bottom)) {
        const int by = halvings(top, bottom);
        return (muta_fraction){top < 0 ? -(-top >> by) : top >> by, bottom >> by};
    }
    const int64_t common = gcd(top, bottom);
    return (muta_fraction){top / common, bottom / common};
}

int64_t muta_common_multiple(int64_t a, int64_t b)
{
    int64_t multiple;

    if (a <= 0 || b <= 0 || __builtin_mul_overflow(a / gcd(a, b), b, &multiple))
        return 0;
    return multiple;
}

/* Of two fractions whose bottoms differ and are powers of two: in lowest terms as it comes, for
 * the one with the larger bottom has an odd top. */
static muta_fraction add_halves(muta_fraction fine, muta_fraction coarse)
{
    int64_t top;

    if (__builtin_mul_overflow(coarse.top, fine.bottom >> halvings(0, coarse.bottom), &top) ||
        __builtin_add_overflow(top, fine.top, &top))
        return invalid;
    return (muta_fraction){top, fine.bottom};
}

/* A whole number leaves the other in lowest terms. */
static muta_fraction add_whole(muta_fraction a, int64_t whole)
{
    int64_t top;

    if (__builtin_mul_overflow(whole, a.bottom, &top) || __builtin_add_overflow(top, a.top, &top) ||
        top == INT64_MIN)
        return invalid;
    return (muta_fraction){top, a.bottom};
}

muta_fraction muta_fraction_add(muta_fraction a, muta_fraction b)
{
    if (a.bottom <= 0 || b.bottom <= 0)
        return invalid;
    if (b.bottom == 1)
        return add_whole(a, b.top);
    if (a.bottom == 1)
        return add_whole(b, a.top);
    int64_t left;
    int64_t right;
    int64_t top;
    int64_t bottom;

    if (a.bottom == b.bottom)
        return __builtin_add_overflow(a.top, b.top, &top) ? invalid
                                                          : muta_fraction_of(top, a.bottom);
    if (is_power_of_two(a.bottom) && is_power_of_two(b.bottom))
        return a.bottom > b.bottom ? add_halves(a, b) : add_halves(b, a);
    const int64_t common = gcd(a.bottom, b.bottom);
    if (__builtin_mul_overflow(a.top, b.bottom / common, &left) ||
        __builtin_mul_overflow(b.top, a.bottom / common, &right) ||
        __builtin_add_overflow(left, right, &top) ||
        __builtin_mul_overflow(a.bottom, b.bottom / common, &bottom))
        return invalid;
    return muta_fraction_of(top, bottom);
}

muta_fraction muta_fraction_subtract(muta_fraction a, muta_fraction b)
{
    b.top = -b.top; /* never the smallest number: muta_fraction_of refuses it */
    return muta_fraction_add(a, b);
}

muta_fraction muta_fraction_multiply(muta_fraction a, muta_fraction b)
{
    if (a.bottom <= 0 || b.bottom <= 0)
        return invalid;
    int64_t top;
    int64_t bottom;

    if (is_power_of_two(a.bottom) && is_power_of_two(b.bottom) &&
        !__builtin_mul_overflow(a.top, b.top, &top) &&
        !__builtin_mul_overflow(a.bottom, b.bottom, &bottom))
        return muta_fraction_of(top, bottom); /* without a division */
    const int64_t ab = b.bottom == 1 ? 1 : gcd(a.top, b.bottom);
    const int64_t ba = a.bottom == 1 ? 1 : gcd(b.top, a.bottom);
    if (__builtin_mul_overflow(a.top / ab, b.top / ba, &top) ||
        __builtin_mul_overflow(a.bottom / ba, b.bottom / ab, &bottom) || top == INT64_MIN)
        return invalid;
    return (muta_fraction){top, bottom}; /* in lowest terms, as both were */
}

muta_fraction muta_fraction_divide(muta_fraction a, muta_fraction b)
{
    if (b.bottom <= 0 || b.top == 0)
        return invalid;
    return muta_fraction_multiply(a, muta_fraction_of(b.bottom, b.top));
}

muta_fraction muta_fraction_scale(muta_fraction a, int64_t times)
{
    return muta_fraction_multiply(a, muta_fraction_of(times, 1));
}

int muta_fraction_compare(muta_fraction a, muta_fraction b)
{
    if (a.bottom <= 0 || b.bottom <= 0)
        return (a.bottom > 0) - (b.bottom > 0);
    if (a.bottom == b.bottom)
        return (a.top > b.top) - (a.top < b.top);
    const wide left = (wide)a.top * b.bottom;
    const wide right = (wide)b.top * a.bottom;
    return (left > right) - (left < right);
}

muta_fraction muta_fraction_max(muta_fraction a, muta_fraction b)
{
    return muta_fraction_compare(a, b) < 0 ? b : a;
}

muta_fraction muta_fraction_min(muta_fraction a, muta_fraction b)
{
    return muta_fraction_compare(a, b) < 0 ? a : b;
}

const char *muta_fraction_print(muta_fraction a, char *text)
{
    if (!muta_fraction_is_valid(a))
        (void)snprintf(text, MUTA_FRACTION_TEXT, "?");
    else if (a.bottom == 1)
        (void)snprintf(text, MUTA_FRACTION_TEXT, "%" PRId64, a.top);
    else
        (void)snprintf(text, MUTA_FRACTION_TEXT, "%" PRId64 "/%" PRId64, a.top, a.bottom);
    return text;
}

const char *muta_fraction_print_mixed(muta_fraction a, char *text)
{
    if (a.bottom <= 1 || a.top < a.bottom)
        return muta_fraction_print(a, text);
    (void)snprintf(text, MUTA_FRACTION_TEXT, "%" PRId64 "+%" PRId64 "/%" PRId64, a.top / a.bottom,
                   a.top % a.bottom, a.bottom);
    return text;
}

const char *muta_text_decimal(const char *at, muta_fraction *value)
{
    const bool minus = *at == '-';
    int64_t number = 0;
    int64_t bottom = 1;
    int whole = 0;
    int places = 0;

    if (*at == '-' || *at == '+')
        at++;
    at = muta_text_digits(at, &number, &whole);
    if (at && *at == '.')
        at = muta_text_digits(at + 1, &number, &places);
    if (!at || whole + places == 0)
        return NULL;
    for (int i = 0; i < places; i++)
        if (__builtin_mul_overflow(bottom, 10, &bottom))
            return NULL;
    *value = muta_fraction_of(minus ? -number : number, bottom);
    return at;
}

bool muta_text_number(muta_text text, muta_fraction *value)
{
    char copy[40];

    if (text.length == 0 || text.length >= sizeof copy)
        return false;
    memcpy(copy, text.at, text.length);
    copy[text.length] = '\0';
    const char *const end = muta_text_decimal(copy, value);
    return end && *end == '\0';
}

bool muta_text_print_number(muta_fraction value, char *text)
{
    enum {
        MILLIONTHS = 1000000
    };
    const muta_fraction all = muta_fraction_scale(value, MILLIONTHS);

    if (!muta_fraction_is_valid(all) || all.bottom != 1)
        return false;
    const int64_t size = all.top < 0 ? -all.top : all.top;
    *text = '-';
    text += all.top < 0;
    text += strlen(muta_text_print(size / MILLIONTHS, text));
    int64_t left = size % MILLIONTHS;
    if (left > 0)
        *text++ = '.';
    for (; left > 0; left = left * 10 % MILLIONTHS)
        *text++ = (char)('0' + left * 10 / MILLIONTHS);
    *text = '\0';
    return true;
}

/* Reads `12`, `12.5` or `12/5`; NULL when no number stands there. */
static const char *parse_term(const char *at, muta_fraction *value)
{
    int64_t bottom = 1;

    at = muta_text_decimal(at, value);
    if (!at || *at != '/')
        return at;
    at = muta_text_count(at + 1, &bottom);
    if (at)
        *value = muta_fraction_divide(*value, muta_fraction_of(bottom, 1));
    return at;
}

muta_status muta_fraction_parse(const char *text, muta_fraction *value)
{
    muta_fraction sum;
    muta_fraction more = MUTA_ZERO;
    const char *at = parse_term(text, &sum);

    if (at && *at == '+')
        at = parse_term(at + 1, &more);
    if (!at || *at)
        return MUTA_E_RANGE;
    sum = muta_fraction_add(sum, more);
    if (!muta_fraction_is_valid(sum))
        return MUTA_E_RANGE;
    *value = sum;
    return MUTA_OK;
}
