/* mirror.c: a passage turned round in time. */
#include "score/texture.h"

static void turn_round(muta_event *events, size_t count)
{
    for (size_t i = 0; i < count / 2; i++) {
        const muta_event held = events[i];
        events[i] = events[count - 1 - i];
        events[count - 1 - i] = held;
    }
}

static void name_events(muta_weave *work, const muta_line *line)
{
    for (uint32_t i = line->event; i < line->event + line->event_count; i++)
        for (uint32_t j = 0; j < work->events.at[i].tone_count; j++)
            work->tones.at[work->events.at[i].tone + j].event = i;
}

/* Turns what belongs together: grace notes before, the event, grace notes after. */
static void mirror_group(muta_event *events, uint32_t count, muta_fraction length)
{
    muta_fraction onset = events[0].onset;
    muta_fraction end = onset;

    for (uint32_t i = 0; i < count; i++)
        if (!events[i].is_grace) {
            onset = events[i].onset;
            end = muta_fraction_add(onset, events[i].duration);
        }
    for (uint32_t i = 0; i < count; i++) {
        const bool behind = events[i].is_grace && events[i].is_after;
        events[i].onset = muta_fraction_subtract(length, behind ? onset : end);
        events[i].written.is_mirrored = !events[i].written.is_mirrored;
    }
}

/* Turns a line: its events end where they began, each grace group in its own order. */
static void mirror_line(muta_weave *work, const muta_line *line, muta_fraction length)
{
    muta_event *const events = &work->events.at[line->event];
    const uint32_t count = line->event_count;

    for (uint32_t i = 0, next; i < count; i = next) {
        next = i;
        while (next < count && events[next].is_grace && !events[next].is_after)
            next++;
        next += next < count;
        while (next < count && events[next].is_grace && events[next].is_after)
            next++;
        mirror_group(events + i, next - i, length);
        turn_round(events + i, next - i); /* once more below: the group keeps its order */
    }
    turn_round(events, count);
    name_events(work, line);
}

/*
 * Deals the words of a turned line anew: the tones that shared a syllable still share one, and the
 * syllables come in reading order.
 */
static muta_status deal_words(muta_passage *passage, const muta_line *line)
{
    muta_event *const events = &passage->work.events.at[line->event];
    MUTA_VEC(uint32_t) words = {0};
    size_t next = 0;
    bool begins = true;

    for (uint32_t i = line->event_count; i > 0; i--)
        if (events[i - 1].written.syllable != MUTA_NO_SOURCE) {
            uint32_t *const word = MUTA_PUSH(&passage->arena, &words);
            if (!word)
                return MUTA_E_MEMORY;
            *word = events[i - 1].written.syllable;
        }
    /* What came before the first syllable is last now. */
    for (uint32_t i = line->event_count; i > 0 && events[i - 1].written.syllable == MUTA_NO_SOURCE;
         i--)
        events[i - 1].written.is_wordless = true;
    for (uint32_t i = 0; i < line->event_count && words.count > 0; i++) {
        const bool ends = events[i].written.syllable != MUTA_NO_SOURCE;
        if (events[i].written.is_wordless || (events[i].is_grace && !ends))
            continue;
        events[i].written.syllable =
            begins && next < words.count ? words.at[next++] : MUTA_NO_SOURCE;
        begins = ends;
    }
    return MUTA_OK;
}

muta_status muta_passage_mirror(muta_passage *passage)
{
    muta_weave *const work = &passage->work;

    for (size_t i = 0; i < work->lines.count; i++)
        mirror_line(work, &work->lines.at[i], passage->length);
    for (size_t i = 0; i < passage->map.count; i++) {
        muta_statement *const statement = &passage->map.at[i];
        const muta_fraction lasts = muta_fraction_multiply(
            muta_fraction_subtract(statement->to, statement->from), statement->scale);
        statement->at =
            muta_fraction_subtract(passage->length, muta_fraction_add(statement->at, lasts));
        statement->is_mirrored = !statement->is_mirrored;
    }
    for (size_t i = 0; i < work->lines.count; i++)
        MUTA_TRY(deal_words(passage, &work->lines.at[i]));
    return MUTA_OK;
}
