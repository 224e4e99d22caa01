/* ornament.c: ornaments, from the table. */
#include "theory/ornament.h"
#include "theory/table.h"
#include <stdlib.h>
#include <string.h>

/* ---- what is common practice of each ---- */

static bool lasts(const muta_ornament_place *place, int64_t quarters)
{
    return muta_fraction_compare(place->lasts, muta_fraction_of(quarters, 1)) >= 0;
}

static bool anywhere(const muta_ornament_place *place)
{
    (void)place;
    return true;
}

static bool on_a_quarter(const muta_ornament_place *place)
{
    return lasts(place, 1);
}

/* A long trill belongs to a cadence, a short one to a strong place; a voice is not asked for it. */
static bool trill_fits(const muta_ornament_place *place)
{
    const bool is_strong = place->level <= 1 || place->leads_to_end;

    return (place->is_asked || !place->is_sung) && lasts(place, 1) &&
           (!lasts(place, 2) || place->leads_to_end) && is_strong;
}

/* What comes up by step slides already. */
static bool slide_fits(const muta_ornament_place *place)
{
    return lasts(place, 1) && (!place->has_before || -place->back != 1);
}

/* It leads on: what stands alone, or before a rest, is said. */
static bool neighbour_fits(const muta_ornament_place *place)
{
    return place->has_next && (place->repeats || lasts(place, 1));
}

/* On the beat it puts off its tone: by default only one that was just heard. */
static bool turn_fits(const muta_ornament_place *place)
{
    return lasts(place, 1) && (place->is_asked || (place->has_before && place->back == 0));
}

/* It fills a third, or a fourth where there is time. */
static bool passing_fits(const muta_ornament_place *place)
{
    return place->has_next && (abs(place->on) == 2 || (abs(place->on) == 3 && lasts(place, 1)));
}

static bool escape_fits(const muta_ornament_place *place)
{
    return place->has_next && abs(place->on) == 1;
}

static bool anticipation_fits(const muta_ornament_place *place)
{
    return place->has_next && !place->repeats && abs(place->on) <= 2 && place->next_level <= 2;
}

/* Source of what each sign means: MusicXML 4.0, its elements. */
static const muta_ornament_row rows[MUTA_ORNAMENT_COUNT] = {
    [MUTA_ORNAMENT_MORDENT] = {.name = "mordent",
                               .sign = "mordent",
                               .turned = MUTA_ORNAMENT_UPPER_MORDENT,
                               .liking = 500,
                               .by_length = true,
                               .uses_below = true,
                               .suits = MUTA_NO_STEP,
                               .fits = anywhere},
    /* The half trill belongs over a falling second. */
    [MUTA_ORNAMENT_UPPER_MORDENT] = {.name = "upper-mordent",
                                     .sign = "inverted-mordent",
                                     .turned = MUTA_ORNAMENT_MORDENT,
                                     .liking = 450,
                                     .by_length = true,
                                     .uses_above = true,
                                     .suits = -1,
                                     .fits = anywhere},
    /* The turn belongs before a rising second. */
    [MUTA_ORNAMENT_TURN] = {.name = "turn",
                            .sign = "turn",
                            .turned = MUTA_ORNAMENT_TURN_BELOW,
                            .liking = 600,
                            .by_length = true,
                            .uses_above = true,
                            .uses_below = true,
                            .begins_above = true,
                            .suits = 1,
                            .fits = turn_fits},
    [MUTA_ORNAMENT_TURN_BELOW] = {.name = "turn-below",
                                  .sign = "inverted-turn",
                                  .turned = MUTA_ORNAMENT_TURN,
                                  .liking = 350,
                                  .by_length = true,
                                  .uses_above = true,
                                  .uses_below = true,
                                  .suits = MUTA_NO_STEP,
                                  .fits = on_a_quarter},
    [MUTA_ORNAMENT_TURN_AFTER] = {.name = "turn-after",
                                  .sign = "delayed-turn",
                                  .liking = 550,
                                  .by_length = true,
                                  .uses_above = true,
                                  .uses_below = true,
                                  .suits = 1,
                                  .fits = on_a_quarter},
    [MUTA_ORNAMENT_TRILL] = {.name = "trill",
                             .sign = "trill-mark",
                             .liking = 300,
                             .by_length = true,
                             .uses_above = true,
                             .begins_above = true,
                             .is_of_cadences = true,
                             .suits = MUTA_NO_STEP,
                             .fits = trill_fits},
    [MUTA_ORNAMENT_SLIDE] = {.name = "slide",
                             .sign = "schleifer",
                             .liking = 450,
                             .by_length = true,
                             .suits = MUTA_NO_STEP,
                             .fits = slide_fits},
    [MUTA_ORNAMENT_APPOGGIATURA] = {.name = "appoggiatura",
                                    .liking = 500,
                                    .by_length = true,
                                    .begins_above = true,
                                    .suits = MUTA_NO_STEP,
                                    .fits = on_a_quarter},
    [MUTA_ORNAMENT_ACCIACCATURA] = {.name = "acciaccatura",
                                    .liking = 400,
                                    .by_length = true,
                                    .has_stroke = true,
                                    .begins_above = true,
                                    .suits = MUTA_NO_STEP,
                                    .fits = anywhere},
    [MUTA_ORNAMENT_NEIGHBOUR] = {.name = "neighbour",
                                 .liking = 600,
                                 .leads_on = true,
                                 .by_length = true,
                                 .suits = 0,
                                 .fits = neighbour_fits},
    [MUTA_ORNAMENT_PASSING] = {.name = "passing",
                               .liking = 1100,
                               .leads_on = true,
                               .suits = MUTA_NO_STEP,
                               .fits = passing_fits},
    [MUTA_ORNAMENT_ESCAPE] = {.name = "escape",
                              .liking = 450,
                              .leads_on = true,
                              .suits = MUTA_NO_STEP,
                              .fits = escape_fits},
    [MUTA_ORNAMENT_ANTICIPATION] = {.name = "anticipation",
                                    .liking = 500,
                                    .leads_on = true,
                                    .is_of_cadences = true,
                                    .suits = MUTA_NO_STEP,
                                    .fits = anticipation_fits},
};

const muta_ornament_row *muta_ornament_row_of(muta_ornament ornament)
{
    return &rows[ornament];
}

muta_ornament muta_ornament_named(muta_text name)
{
    for (int i = 1; i < MUTA_ORNAMENT_COUNT; i++)
        if (muta_text_is(name, rows[i].name))
            return (muta_ornament)i;
    return MUTA_ORNAMENT_NONE;
}

muta_ornament muta_ornament_of_sign(const char *sign)
{
    for (int i = 1; i < MUTA_ORNAMENT_COUNT; i++)
        if (rows[i].sign && strcmp(rows[i].sign, sign) == 0)
            return (muta_ornament)i;
    return MUTA_ORNAMENT_NONE;
}

int64_t muta_ornament_merit(muta_ornament ornament, const muta_ornament_place *place)
{
    /* In thousandths; set by ear and eye on tunes of the corpora. */
    enum {
        LONG = 120,   /* each quarter that the tone lasts, up to three */
        STRONG = 250, /* the down-beat; less on weaker beats */
        STUTTER = 600,
        CADENCE = 700
    };
    const muta_ornament_row *const row = &rows[ornament];
    const int64_t quarters = place->lasts.top / place->lasts.bottom;
    int64_t merit = row->liking;

    if (place->has_before && place->back == 1 && row->begins_above)
        merit -= STUTTER;
    if (row->by_length)
        merit += LONG * (quarters < 3 ? quarters : 3) + STRONG / (1 + place->level);
    if (row->is_of_cadences && place->leads_to_end)
        merit += CADENCE;
    if (place->has_next && place->on == row->suits)
        merit += STRONG;
    return merit;
}

/* ---- how each is played ---- */

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

static bool read_pattern(const muta_row *row, struct pattern *pattern)
{
    char text[16] = "";

    *pattern = (struct pattern){.held = SIZE_MAX, .fast = MUTA_ZERO};
    pattern->opening_count = muta_cell_steps(row->cells[2], pattern->opening, FEW, &pattern->held);
    pattern->shake_count = muta_cell_steps(row->cells[3], pattern->shake, FEW, &pattern->held);
    pattern->ending_count = muta_cell_steps(row->cells[4], pattern->ending, FEW, &pattern->held);
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
