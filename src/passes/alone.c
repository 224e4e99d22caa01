/* alone.c: chords for a line that stands alone. */
#include "passes/alone.h"
#include "passes/harmonising.h"
#include "study/heard.h"
#include <string.h>

/* ---- where chords may change ---- */

/* How strong a beat is, counted from that on the bar line. */
static uint8_t level_of(const muta_beat *beat, int64_t count)
{
    const muta_fraction beats =
        muta_fraction_divide(muta_fraction_subtract(beat->end, beat->bar), beat->beat);

    if (count == 0)
        return MUTA_LEVEL_BAR;
    return beats.bottom == 1 && beats.top == 2 * count ? MUTA_LEVEL_HALF : MUTA_LEVEL_BEAT;
}

/* A slot for each beat; under its last tone nothing moves any more. */
static muta_status find_whiles(struct muta_harmonising *work, const muta_passage_chord *heard,
                               size_t count)
{
    const muta_fraction length = muta_passage_length(work->call->in);
    const struct muta_harmonised_note *const last = &work->tune.at[work->tune.count - 1];
    muta_fraction at = MUTA_ZERO;
    size_t of = 0;

    while (muta_fraction_compare(at, length) < 0) {
        muta_beat beat;
        muta_passage_beat_at(work->call->in, at, &beat);
        const muta_fraction gone =
            muta_fraction_divide(muta_fraction_subtract(at, beat.bar), beat.beat);
        const int64_t beats = gone.bottom > 0 ? gone.top / gone.bottom : 0;
        muta_fraction to = muta_fraction_add(beat.bar, muta_fraction_scale(beat.beat, beats + 1));
        to = muta_fraction_min(to, muta_fraction_min(beat.end, length));
        if (muta_fraction_compare(to, at) <= 0 || muta_fraction_compare(last->onset, to) < 0)
            to = length;
        while (of + 1 < count && muta_fraction_compare(heard[of + 1].from, at) <= 0)
            of++;
        MUTA_TRY(muta_harmonising_add_slot(work, at, to, &heard[of], beats > 0));
        work->slots.at[work->slots.count - 1].level = level_of(&beat, beats);
        at = to;
    }
    work->slots.at[work->slots.count - 1].is_close = true;
    return MUTA_OK;
}

/* Whether the tones of a line last a beat and more, most of the time. */
static bool goes_by_beats(const struct muta_harmonising *work)
{
    muta_fraction slow = MUTA_ZERO;
    muta_fraction all = MUTA_ZERO;

    for (uint32_t i = 0; i < work->work.event_count; i++) {
        const muta_event *const event = &work->work.events[i];
        muta_beat beat;
        if (event->tone_count == 0)
            continue;
        muta_passage_beat_at(work->call->in, event->onset, &beat);
        all = muta_fraction_add(all, event->duration);
        if (muta_fraction_compare(event->duration, beat.beat) >= 0)
            slow = muta_fraction_add(slow, event->duration);
    }
    return muta_fraction_compare(muta_fraction_scale(slow, 4), muta_fraction_scale(all, 3)) >= 0;
}

static muta_status harmonise(struct muta_harmonising *work, bool by_beat,
                             muta_passage_chord **chords, size_t *count)
{
    muta_passage_chord *heard;
    const muta_answer *answer;

    MUTA_TRY(muta_passage_list_chords(work->call->in, &work->arena, &heard, count));
    if (!by_beat)
        work->pace = goes_by_beats(work) ? MUTA_CHORD_A_HALF : MUTA_CHORD_A_BAR;
    MUTA_TRY(muta_harmonising_find_tune(work));
    if (*count == 0 || work->tune.count == 0)
        return MUTA_OK;
    MUTA_TRY(find_whiles(work, heard, *count));
    MUTA_TRY(muta_harmonising_find_chords(work));
    MUTA_TRY(muta_harmonising_search(work, &answer));
    MUTA_TRY(muta_harmonising_take(work, answer, chords));
    *count = work->slots.count;
    return MUTA_OK;
}

muta_status muta_harmonise_alone(const muta_call *call, bool by_beat, bool is_bass,
                                 muta_arena *arena, muta_passage_chord **chords, size_t *count)
{
    struct muta_harmonising work = {.call = call,
                                    .palette = "common-practice",
                                    .work = muta_passage_work(call->in),
                                    .alone = is_bass ? MUTA_ALONE_BASS : MUTA_ALONE_TUNE,
                                    .pace = MUTA_CHORD_A_BEAT};
    muta_passage_chord *found = NULL;

    *chords = NULL;
    muta_status status = harmonise(&work, by_beat, &found, count);
    if (status == MUTA_OK && found) {
        *chords = muta_arena_take_array(arena, *count, sizeof **chords);
        if (*chords)
            memcpy(*chords, found, *count * sizeof **chords);
        else
            status = MUTA_E_MEMORY;
    }
    muta_arena_clear(&work.arena);
    return status;
}

muta_status muta_list_or_set_chords(const muta_call *call, muta_arena *arena,
                                    muta_passage_chord **chords, size_t *count)
{
    const muta_texture work = muta_passage_work(call->in);
    const muta_line *const line = muta_line_alone(call->in);

    if (line) {
        MUTA_TRY(
            muta_harmonise_alone(call, false, muta_lies_low(&work, line), arena, chords, count));
        if (*chords)
            return MUTA_OK;
    }
    return muta_passage_list_chords(call->in, arena, chords, count);
}
