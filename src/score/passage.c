/* passage.c: what passes do to a passage. Keys and spans go along by themselves. */
#include "score/texture.h"
#include <stdlib.h>
#include <string.h>

muta_status muta_passage_new_like(const muta_passage *like, muta_passage **passage)
{
    muta_passage *const made = calloc(1, sizeof *made);

    if (!made)
        return MUTA_E_MEMORY;
    made->score = like->score;
    made->from = like->from;
    made->to = like->to;
    made->length = like->length;
    made->is_whole_bars = like->is_whole_bars;
    made->is_whole_parts = like->is_whole_parts;
    made->is_everything = like->is_everything;
    made->keys_moved = like->keys_moved;
    made->keys_by = like->keys_by;
    made->context = like->context;
    made->next_id = like->next_id;
    if (like->keys.count > 0) {
        if (!MUTA_RESERVE(&made->arena, &made->keys, like->keys.count)) {
            muta_passage_free(made);
            return MUTA_E_MEMORY;
        }
        memcpy(made->keys.at, like->keys.at, like->keys.count * sizeof *like->keys.at);
        made->keys.count = like->keys.count;
    }
    *passage = made;
    return MUTA_OK;
}

void muta_passage_free(muta_passage *passage)
{
    if (!passage)
        return;
    muta_arena_clear(&passage->arena);
    free(passage);
}

muta_fraction muta_passage_length(const muta_passage *passage)
{
    return passage->length;
}

static muta_texture view(const muta_weave *weave)
{
    return (muta_texture){weave->lines.at,     weave->lines.count, weave->events.at,
                          weave->events.count, weave->tones.at,    weave->tones.count};
}

muta_texture muta_passage_work(const muta_passage *passage)
{
    return view(&passage->work);
}

muta_texture muta_passage_context(const muta_passage *passage)
{
    return view(passage->context);
}

bool muta_passage_key(const muta_passage *passage, muta_key *key)
{
    for (size_t i = 0; i < passage->keys.count; i++)
        if (passage->keys.at[i].onset.top == 0) {
            *key = passage->keys.at[i].key;
            return true;
        }
    return false;
}

bool muta_passage_leaves_chords(const muta_passage *passage)
{
    for (size_t i = 0; i < passage->score->part_count && !passage->keys_moved; i++) {
        const muta_part *const part = &passage->score->parts[i];
        for (size_t j = 0; j < part->harmonies.count; j++)
            if (muta_moment_compare(part->harmonies.at[j].at, passage->from) >= 0 &&
                muta_moment_compare(part->harmonies.at[j].at, passage->to) < 0)
                return true;
    }
    return false;
}

size_t muta_passage_changed_count(const muta_passage *passage)
{
    size_t count = 0;

    for (size_t i = 0; i < passage->work.tones.count; i++)
        count += passage->work.tones.at[i].is_pitch_changed;
    return count;
}

static muta_status append_lines(muta_passage *to, const muta_weave *from, muta_fraction onset)
{
    muta_weave *const work = &to->work;
    const uint32_t line = (uint32_t)work->lines.count;
    const uint32_t event = (uint32_t)work->events.count;
    const uint32_t tone = (uint32_t)work->tones.count;

    for (size_t i = 0; i < from->lines.count; i++) {
        work->lines.at[line + i] = from->lines.at[i];
        work->lines.at[line + i].event += event;
    }
    for (size_t i = 0; i < from->events.count; i++) {
        muta_event *const copy = &work->events.at[event + i];
        *copy = from->events.at[i];
        copy->tone += tone;
        copy->onset = muta_fraction_add(copy->onset, onset);
        if (!muta_fraction_is_valid(copy->onset))
            return MUTA_E_RANGE;
    }
    for (size_t i = 0; i < from->tones.count; i++) {
        muta_tone *const copy = &work->tones.at[tone + i];
        *copy = from->tones.at[i];
        copy->line += line;
        copy->event += event;
        if (tone > 0) /* a further statement is new tones of the same origin */
            copy->id = ++to->next_id;
    }
    work->lines.count += from->lines.count;
    work->events.count += from->events.count;
    work->tones.count += from->tones.count;
    return MUTA_OK;
}

muta_status muta_passage_append(muta_passage *to, const muta_passage *from, muta_fraction onset,
                                muta_tones *tones)
{
    muta_weave *const work = &to->work;
    const size_t first = work->tones.count;

    if (!MUTA_RESERVE(&to->arena, &work->lines, from->work.lines.count) ||
        !MUTA_RESERVE(&to->arena, &work->events, from->work.events.count) ||
        !MUTA_RESERVE(&to->arena, &work->tones, from->work.tones.count))
        return MUTA_E_MEMORY;
    MUTA_TRY(append_lines(to, &from->work, onset));
    *tones = (muta_tones){work->tones.at + first, from->work.tones.count};
    return MUTA_OK;
}

/* The pitch that the tone's first written note has in the score, as it sounds. */
static muta_pitch written_sound(const muta_passage *passage, const muta_tone *tone)
{
    const muta_part *const part = &passage->score->parts[passage->work.lines.at[tone->line].part];
    const muta_note *const note = &part->notes.at[tone->source];
    const muta_moment at = {note->bar, note->staff, note->onset};

    return muta_pitch_add(note->pitch, muta_part_transposition_at(part, at));
}

/* The signature in force for a tone, in fifths as it sounds; none counts as C major's. */
static int32_t fifths_at(const muta_passage *passage, const muta_tone *tone)
{
    const muta_event *const event = &passage->work.events.at[tone->event];
    const uint32_t part = passage->work.lines.at[tone->line].part;
    int32_t fifths = 0;

    for (size_t i = 0; i < passage->keys.count; i++) {
        const muta_passage_key_entry *const entry = &passage->keys.at[i];
        if (entry->part == part &&
            (entry->staff == MUTA_ALL_STAVES || entry->staff == event->staff) &&
            muta_fraction_compare(entry->onset, event->onset) <= 0)
            fifths = entry->key.fifths;
    }
    return fifths;
}

/* Along the scale of the signature; what the tone is away from its degree goes along. */
static muta_pitch moved_in_key(muta_pitch pitch, int32_t steps, int32_t fifths)
{
    const int32_t away =
        pitch.alter - muta_key_sharps(fifths, muta_pitch_step(pitch)) * MUTA_SEMITONE;

    pitch.place += steps;
    pitch.alter = muta_key_sharps(fifths, muta_pitch_step(pitch)) * MUTA_SEMITONE + away;
    return pitch;
}

muta_status muta_passage_move(muta_passage *passage, muta_tone *tone, muta_interval by,
                              int64_t times, muta_kind kind)
{
    enum {
        FARTHEST = 10000
    }; /* steps; far beyond any score, far within 32 bits */
    const int64_t steps = by.steps * times;
    const int64_t size = by.size * times;

    if (tone->is_fixed)
        return MUTA_OK;
    if (steps > FARTHEST || steps < -FARTHEST || size > FARTHEST * (int64_t)MUTA_SEMITONE ||
        size < -FARTHEST * (int64_t)MUTA_SEMITONE)
        return MUTA_E_RANGE;
    tone->pitch = kind == MUTA_TONAL
                      ? moved_in_key(tone->pitch, (int32_t)steps, fifths_at(passage, tone))
                      : muta_pitch_add(tone->pitch, (muta_interval){(int32_t)steps, (int32_t)size});
    tone->is_pitch_changed = !muta_pitch_is_equal(tone->pitch, written_sound(passage, tone));
    return MUTA_OK;
}

muta_status muta_passage_move_keys(muta_passage *passage, muta_interval by, muta_keys keys,
                                   muta_diags *diags)
{
    if (keys == MUTA_KEYS_STAY || (keys == MUTA_KEYS_AUTO && !passage->is_everything))
        return MUTA_OK;
    if (!passage->is_whole_bars) {
        muta_diag_add(diags, MUTA_ERROR, MUTA_NOWHERE,
                      "keys=move needs a passage of whole bars, where a signature can change");
        return MUTA_E_DATA;
    }
    if (!passage->is_whole_parts) {
        muta_diag_add(diags, MUTA_ERROR, MUTA_NOWHERE,
                      "keys=move needs whole parts: a signature speaks for all of a part's voices");
        return MUTA_E_DATA;
    }
    for (size_t i = 0; i < passage->keys.count; i++)
        passage->keys.at[i].key.fifths += muta_interval_fifths(by);
    passage->keys_by.steps += by.steps;
    passage->keys_by.size += by.size;
    passage->keys_moved = true;
    return MUTA_OK;
}
