/* beam.c: beams by the beats. */
#include "notate/pulse.h"

/* Everything that one beam may join. */
struct window {
    muta_fraction from;
    muta_fraction to;
};

enum {
    WINDOWS = 256
};

struct windows {
    size_t count;
    struct window at[WINDOWS];
};

static bool overlaps(const muta_item *item, muta_fraction from, muta_fraction to)
{
    return muta_fraction_compare(item->from, to) < 0 && muta_fraction_compare(from, item->to) < 0;
}

/* Plain eighths, and rests, and nothing else. */
static bool holds_eighths(const muta_segments *segments, const muta_items *items,
                          const muta_unit *unit)
{
    const muta_fraction end = muta_unit_end(unit);

    for (size_t i = 0; i < items->count; i++) {
        const muta_item *const item = &items->at[i];
        if (!overlaps(item, unit->start, end))
            continue;
        if (item->tuplets[0].actual > 0)
            return false;
        if (segments->at[item->segment].what != MUTA_SILENCE &&
            (item->type != -1 || item->dots > 0))
            return false;
    }
    return true;
}

static bool is_window(const muta_pulse *pulse, const muta_segments *segments,
                      const muta_items *items, const muta_unit *unit)
{
    const muta_fraction quarter = muta_fraction_of(1, 1);
    const bool in_three = unit->count == 1 && pulse->groups[unit->first] == 3;

    if (muta_fraction_compare(unit->length, quarter) <= 0 ||
        (in_three && muta_fraction_compare(unit->length, muta_fraction_of(3, 2)) <= 0))
        return true;
    /* Groups of several beats, as in compound metre, are never joined. */
    for (size_t i = unit->first; i < unit->first + unit->count; i++)
        if (pulse->groups[i] > 1 && unit->count > 1)
            return false;
    return muta_fraction_compare(unit->length, muta_fraction_of(3, 1)) <= 0 &&
           holds_eighths(segments, items, unit);
}

static void find_windows(const muta_pulse *pulse, const muta_segments *segments,
                         const muta_items *items, const muta_unit *unit, struct windows *windows)
{
    muta_unit parts[MUTA_UNIT_PARTS];

    if (windows->count == WINDOWS)
        return;
    if (is_window(pulse, segments, items, unit)) {
        windows->at[windows->count++] = (struct window){unit->start, muta_unit_end(unit)};
        return;
    }
    const size_t count = muta_unit_divide(pulse, unit, parts);
    for (size_t i = 0; i < count; i++)
        find_windows(pulse, segments, items, &parts[i], windows);
}

static size_t window_of(const struct windows *windows, muta_fraction time)
{
    size_t i = 0;

    while (i + 1 < windows->count && muta_fraction_compare(windows->at[i].to, time) <= 0)
        i++;
    return i;
}

static bool is_beamed(const muta_segments *segments, const muta_item *item)
{
    return segments->at[item->segment].what != MUTA_SILENCE &&
           !segments->at[item->segment].keeps_beams && item->type < 0;
}

/* Whether a beam may go on from one item to the next; cues are not beamed with what sounds. */
static bool joins(const struct windows *windows, const muta_segments *segments, const muta_item *a,
                  const muta_item *b)
{
    const bool in_tuplet = a->tuplets[0].actual > 0;

    if (segments->at[a->segment].is_cue != segments->at[b->segment].is_cue)
        return false;
    if (in_tuplet != (b->tuplets[0].actual > 0))
        return false;
    if (in_tuplet)
        return !a->tuplets[0].ends && !b->tuplets[0].begins;
    return window_of(windows, a->from) == window_of(windows, b->from);
}

static size_t beams_of(const muta_item *item)
{
    const size_t count = item->type < 0 ? (size_t)-item->type : 0;

    return count < MUTA_BEAM_LEVELS ? count : MUTA_BEAM_LEVELS;
}

/* A beam of one note points to the note with which it makes up a larger value. */
static muta_beam hook(const muta_item *run, size_t count, size_t nth)
{
    if (nth == 0)
        return MUTA_BEAM_FORWARD_HOOK;
    if (nth + 1 == count)
        return MUTA_BEAM_BACKWARD_HOOK;
    const muta_fraction place = muta_fraction_divide(
        run[nth].from, muta_fraction_scale(muta_fraction_subtract(run[nth].to, run[nth].from), 2));
    return place.bottom == 1 ? MUTA_BEAM_FORWARD_HOOK : MUTA_BEAM_BACKWARD_HOOK;
}

static void beam_run(muta_item *run, size_t count)
{
    if (count < 2)
        return;
    for (size_t level = 0; level < MUTA_BEAM_LEVELS; level++)
        for (size_t i = 0; i < count; i++) {
            const bool before = i > 0 && beams_of(&run[i - 1]) > level;
            const bool behind = i + 1 < count && beams_of(&run[i + 1]) > level;
            if (beams_of(&run[i]) <= level)
                continue;
            run[i].beams[level] = (uint8_t)(before && behind ? MUTA_BEAM_CONTINUE
                                            : before         ? MUTA_BEAM_END
                                            : behind         ? MUTA_BEAM_BEGIN
                                                             : hook(run, count, i));
        }
}

/* A bracket shows what belongs to a tuplet, unless one beam shows it. */
static void bracket(muta_items *items, size_t level)
{
    for (size_t first = 0; first < items->count; first++) {
        bool beamed = true;
        size_t end = first;
        if (!items->at[first].tuplets[level].begins)
            continue;
        do
            beamed = beamed && items->at[end].beams[0] != MUTA_BEAM_NONE;
        while (!items->at[end].tuplets[level].ends && ++end < items->count);
        items->at[first].tuplets[level].is_bracketed = !beamed;
    }
}

void muta_notate_beams(const muta_pulse *pulse, const muta_segments *segments, muta_items *items)
{
    struct windows windows;
    const muta_unit root = muta_pulse_root(pulse);
    size_t next;

    windows.count = 0; /* the rest of it is large, and filled as it is needed */
    find_windows(pulse, segments, items, &root, &windows);
    for (size_t first = 0; first < items->count; first = next) {
        next = first + 1;
        if (!is_beamed(segments, &items->at[first]))
            continue;
        while (next < items->count && is_beamed(segments, &items->at[next]) &&
               joins(&windows, segments, &items->at[next - 1], &items->at[next]))
            next++;
        beam_run(&items->at[first], next - first);
    }
    for (size_t level = 0; level < MUTA_TUPLET_LEVELS; level++)
        bracket(items, level);
}
