/*
 * motif.c: the cell of the tune to work with: a bar, or two, of three tones at least, that the tune
 * itself says again most often: in the same rhythm, better still with the same steps.
 */
#include "study/study.h"

enum {
    LEAST_TONES = 3,
    MOST_BARS = 2,
    /* What speaks for a cell, in thousandths; set by eye on songs of the corpora. */
    SAME_RHYTHM = 400, /* each other place with its rhythm, */
    SAME_STEPS = 1000, /* or with its steps too */
    PLACES = 4,        /* more count no more */
    EACH_BAR_LATER = 150,
    SECOND_BAR = 500,
    BEGINS_LATE = 1500 /* behind its bar line: what came over that would be cut off */
};

/* The tones of the tune, from `first` up to `end`, that begin in some bars. */
struct cell {
    size_t first;
    size_t end;
    int64_t from;
    int64_t to;
};

static const muta_heard_bar *bar_at(const muta_study *study, size_t nth)
{
    return &study->heard.bars.at[nth];
}

static bool is_full(const muta_study *study, size_t nth)
{
    const muta_heard_bar *const bar = bar_at(study, nth);

    return bar->offset == 0 && bar->to - bar->from >= bar->beat * bar->beats;
}

/* The first tone of the tune that does not begin before a moment. */
static size_t first_from(const muta_study *study, int64_t at)
{
    size_t low = 0;
    size_t high = study->tune.count;

    while (low < high) {
        const size_t middle = low + (high - low) / 2;
        if (muta_look_tone(study, middle)->from < at)
            low = middle + 1;
        else
            high = middle;
    }
    return low;
}

/* The tones of a line that begin in a stretch of bars. */
static struct cell cell_of(const muta_study *study, uint32_t line, size_t nth, size_t bars)
{
    struct cell cell = {0, 0, bar_at(study, nth)->from, bar_at(study, nth + bars - 1)->to};
    size_t i = first_from(study, cell.from);

    cell.first = i;
    while (i < study->tune.count && muta_look_tone(study, i)->from < cell.to &&
           muta_look_tone(study, i)->line == line)
        i++;
    cell.end = i;
    return cell;
}

static bool has_rhythm_of(const muta_study *study, const struct cell *a, const struct cell *b)
{
    if (a->end - a->first != b->end - b->first)
        return false;
    for (size_t i = 0; i < a->end - a->first; i++)
        if (muta_look_tone(study, a->first + i)->from - a->from !=
            muta_look_tone(study, b->first + i)->from - b->from)
            return false;
    return true;
}

static bool has_steps_of(const muta_study *study, const struct cell *a, const struct cell *b)
{
    const int32_t by =
        muta_look_tone(study, b->first)->place - muta_look_tone(study, a->first)->place;

    for (size_t i = 1; i < a->end - a->first; i++)
        if (muta_look_tone(study, b->first + i)->place -
                muta_look_tone(study, a->first + i)->place !=
            by)
            return false;
    return true;
}

/* Whether its first tone begins behind its bar line, with a rest before it or a tone held over. */
static bool begins_late(const muta_study *study, const struct cell *cell)
{
    return muta_look_tone(study, cell->first)->from > cell->from;
}

static int64_t merit_of(const muta_study *study, uint32_t line, size_t nth, size_t bars,
                        const struct cell *cell)
{
    int64_t places = 0;
    int64_t merit = 0;

    for (size_t i = 0; i + bars <= study->heard.bars.count && places < PLACES; i++) {
        const struct cell other = cell_of(study, line, i, bars);
        if (i == nth || !has_rhythm_of(study, cell, &other))
            continue;
        merit += has_steps_of(study, cell, &other) ? SAME_STEPS : SAME_RHYTHM;
        places++;
    }
    return merit - (begins_late(study, cell) ? BEGINS_LATE : 0) - (int64_t)(bars - 1) * SECOND_BAR;
}

void muta_motif_find(const muta_study *study, uint32_t line, uint32_t *from, uint32_t *to)
{
    enum {
        FARTHEST = 24 /* full bars of the tune that are looked at: a motif is heard early */
    };
    int64_t best = INT64_MIN;
    int64_t seen = 0;

    for (size_t i = 0; i < study->heard.bars.count && seen < FARTHEST; i++) {
        struct cell cell = {0};
        size_t bars = 1;
        for (; bars <= MOST_BARS && i + bars <= study->heard.bars.count; bars++) {
            cell = cell_of(study, line, i, bars);
            if (cell.end - cell.first >= LEAST_TONES)
                break;
        }
        if (!is_full(study, i) || bars > MOST_BARS || i + bars > study->heard.bars.count)
            continue;
        const int64_t merit = merit_of(study, line, i, bars, &cell) - seen++ * EACH_BAR_LATER;
        if (merit <= best)
            continue;
        best = merit;
        *from = bar_at(study, i)->index;
        *to = bar_at(study, i + bars - 1)->index + 1;
    }
}
