/* ornament.c: ornaments, from the table. */
#include "theory/ornament.h"
#include "theory/table.h"
#include <string.h>

const char *const muta_ornament_names[MUTA_ORNAMENT_COUNT] = {
    NULL,         "mordent", "upper-mordent", "turn",         "turn-below",
    "turn-after", "trill",   "slide",         "appoggiatura", "acciaccatura",
    "neighbour",  "passing", "escape",        "anticipation",
};

enum {
    FEW = 16,  /* notes of a cell */
    FINEST = 6 /* how often a fast note may be halved */
};

/* A row as it is read. */
struct pattern {
    int8_t opening[FEW];
    size_t opening_count;
    int8_t shake[FEW];
    size_t shake_count;
    int8_t ending[FEW];
    size_t ending_count;
    size_t held; /* which note takes what is left: of the opening, or SIZE_MAX for the last */
    muta_fraction fast;
    bool is_half;
};

bool muta_treatise_is_known(const char *name)
{
    const char *at = muta_table_ornaments;
    muta_row row;

    while (muta_table_next(&at, &row))
        if (muta_text_is(row.cells[1], name))
            return true;
    return false;
}

/* `0 -1 0*`: small numbers with blanks between them. */
static size_t read_steps(muta_text cell, int8_t *steps, size_t *held)
{
    size_t count = 0;
    int8_t sign = 1;

    for (size_t i = 0; i < cell.length && count < FEW; i++) {
        const char c = cell.at[i];
        if (c == '*')
            *held = count - 1;
        else if (c >= '0' && c <= '9')
            steps[count++] = (int8_t)(sign * (c - '0'));
        sign = c == '-' ? -1 : 1;
    }
    return count;
}

static bool read_pattern(const muta_row *row, struct pattern *pattern)
{
    char text[16] = "";

    *pattern = (struct pattern){.held = SIZE_MAX, .fast = MUTA_ZERO};
    pattern->opening_count = read_steps(row->cells[2], pattern->opening, &pattern->held);
    pattern->shake_count = read_steps(row->cells[3], pattern->shake, &pattern->held);
    pattern->ending_count = read_steps(row->cells[4], pattern->ending, &pattern->held);
    pattern->is_half = muta_text_is(row->cells[5], "half");
    if (pattern->is_half)
        return pattern->opening_count == 2;
    if (row->cells[5].length >= sizeof text)
        return false;
    memcpy(text, row->cells[5].at, row->cells[5].length);
    return muta_fraction_parse(text, &pattern->fast) == MUTA_OK;
}

static bool find_row(const char *name, const char *treatise, struct pattern *pattern)
{
    const char *at = muta_table_ornaments;
    muta_row row;

    while (muta_table_next(&at, &row))
        if (muta_text_is(row.cells[0], name) && (!treatise || muta_text_is(row.cells[1], treatise)))
            return read_pattern(&row, pattern);
    return false;
}

static muta_fraction times(muta_fraction fraction, size_t count)
{
    return muta_fraction_scale(fraction, (int64_t)count);
}

/* Half of it, or of a dotted value the longer part. */
static size_t halve(const struct pattern *pattern, muta_fraction duration, muta_stroke *strokes)
{
    const bool in_three = duration.top % 3 == 0;
    const muta_fraction first = muta_fraction_multiply(duration, in_three ? muta_fraction_of(2, 3)
                                                                          : muta_fraction_of(1, 2));

    strokes[0] = (muta_stroke){pattern->opening[0], first};
    strokes[1] = (muta_stroke){pattern->opening[1], muta_fraction_subtract(duration, first)};
    return 2;
}

static size_t add(const int8_t *steps, size_t count, muta_fraction fast, muta_stroke *strokes,
                  size_t at)
{
    for (size_t i = 0; i < count; i++)
        strokes[at + i] = (muta_stroke){steps[i], fast};
    return at + count;
}

/* How often the shake fits between the other notes. */
static size_t count_shakes(const struct pattern *pattern, muta_fraction fast,
                           muta_fraction duration)
{
    const size_t others = pattern->opening_count + pattern->ending_count;
    const muta_fraction room = muta_fraction_subtract(duration, times(fast, others));
    const muta_fraction fit = muta_fraction_divide(room, times(fast, pattern->shake_count));
    const int64_t most = (int64_t)((MUTA_STROKES - others) / pattern->shake_count);
    const int64_t count = muta_fraction_is_valid(fit) && fit.top > 0 ? fit.top / fit.bottom : 0;

    return (size_t)(count < most ? count : most);
}

size_t muta_ornament_realise(const char *name, const char *treatise, muta_fraction duration,
                             muta_stroke strokes[MUTA_STROKES])
{
    struct pattern pattern;
    size_t count = 0;
    size_t shakes = 0;

    if (duration.top <= 0 ||
        (!(treatise && find_row(name, treatise, &pattern)) && !find_row(name, NULL, &pattern)))
        return 0;
    if (pattern.is_half)
        return halve(&pattern, duration, strokes);
    const size_t least = pattern.opening_count + pattern.shake_count + pattern.ending_count;
    muta_fraction fast = pattern.fast;
    for (int i = 0; i < FINEST && muta_fraction_compare(times(fast, least), duration) > 0; i++)
        fast = muta_fraction_divide(fast, muta_fraction_of(2, 1));
    if (muta_fraction_compare(times(fast, least), duration) > 0)
        return 0;
    count = add(pattern.opening, pattern.opening_count, fast, strokes, count);
    if (pattern.shake_count > 0)
        shakes = count_shakes(&pattern, fast, duration);
    for (size_t i = 0; i < shakes; i++)
        count = add(pattern.shake, pattern.shake_count, fast, strokes, count);
    count = add(pattern.ending, pattern.ending_count, fast, strokes, count);
    muta_stroke *const held = &strokes[pattern.held < count ? pattern.held : count - 1];
    held->duration =
        muta_fraction_add(held->duration, muta_fraction_subtract(duration, times(fast, count)));
    return count;
}
