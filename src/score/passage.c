/* passage.c: how a passage begins and ends, and what it says of itself. */
#include "mutanza/limits.h"
#include "score/region.h"
#include "score/texture.h"
#include <stdlib.h>
#include <string.h>

/* Copies a track of `like` into the fresh passage `made`. */
#define COPY(made, like, track)                                                                    \
    (MUTA_RESERVE(&(made)->arena, &(made)->track, (like)->track.count + 1) &&                      \
     ((like)->track.count == 0 || memcpy((made)->track.at, (like)->track.at,                       \
                                         (like)->track.count * sizeof *(like)->track.at)) &&       \
     ((made)->track.count = (like)->track.count, true))

muta_status muta_passage_set_chords(muta_passage *passage, const muta_passage_chord *chords,
                                    size_t count)
{
    muta_passage_chord *const own = muta_arena_take_array(&passage->arena, count + 1, sizeof *own);

    if (!own)
        return MUTA_E_MEMORY;
    for (size_t i = 0; i < count; i++)
        own[i] = chords[i];
    passage->chords = own;
    passage->chord_count = count;
    passage->has_own_chords = true;
    return MUTA_OK;
}

muta_status muta_passage_new_like(const muta_passage *like, muta_passage **passage)
{
    muta_passage *const made = calloc(1, sizeof *made);

    if (!made)
        return MUTA_E_MEMORY;
    made->score = like->score;
    made->from = like->from;
    made->to = like->to;
    made->length = MUTA_ZERO;
    made->is_whole_bars = like->is_whole_bars;
    made->is_whole_parts = like->is_whole_parts;
    made->is_everything = like->is_everything;
    made->keys_moved = like->keys_moved;
    made->keys_recast = like->keys_recast;
    made->scale = like->scale;
    made->is_remetred = like->is_remetred;
    made->metre = like->metre;
    made->is_forced = like->is_forced;
    made->slower = like->slower;
    made->faster = like->faster;
    made->keys_by = like->keys_by;
    made->context = like->context;
    made->first = like->first;
    made->next_id = like->next_id;
    made->chords = like->chords;
    made->chord_count = like->chord_count;
    made->says = like->says;
    made->made_part = like->made_part;
    if (((like->has_own_chords || like->keeps_chords) &&
         muta_passage_set_chords(made, like->chords, like->chord_count) != MUTA_OK) ||
        !COPY(made, like, keys) || !COPY(made, like, stretches) || !COPY(made, like, playing) ||
        !COPY(made, like, voices)) {
        muta_passage_free(made);
        return MUTA_E_MEMORY;
    }
    made->has_own_chords = like->has_own_chords;
    made->keeps_chords = like->keeps_chords;
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

const muta_score *muta_passage_score(const muta_passage *passage)
{
    return passage->score;
}

bool muta_passage_is_in(const muta_passage *passage, size_t event, const muta_region *region)
{
    const muta_event *const of = &passage->work.events.at[event];
    const uint32_t part = passage->work.lines.at[passage->work.tones.at[of->tone].line].part;

    return of->written.source != MUTA_NO_SOURCE &&
           muta_region_holds(region, part,
                             &passage->score->parts[part].notes.at[of->written.source]);
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

muta_tone *muta_passage_tones(muta_passage *passage)
{
    return passage->work.tones.at;
}

muta_event *muta_passage_events(muta_passage *passage)
{
    return passage->work.events.at;
}

muta_texture muta_passage_context(const muta_passage *passage)
{
    return view(passage->context);
}

bool muta_passage_leaves_chords(const muta_passage *passage)
{
    for (size_t i = 0;
         i < passage->score->part_count && !passage->keys_moved && !passage->keys_recast; i++) {
        const muta_part *const part = &passage->score->parts[i];
        for (size_t j = 0; j < part->harmonies.count; j++)
            if (muta_moment_compare(part->harmonies.at[j].at, passage->from) >= 0 &&
                muta_moment_compare(part->harmonies.at[j].at, passage->to) < 0)
                return true;
    }
    return false;
}

muta_status muta_passage_set_time(muta_passage *passage, size_t event, muta_fraction onset,
                                  muta_fraction duration)
{
    muta_event *const at = &passage->work.events.at[event];
    const muta_fraction by = muta_fraction_divide(duration, at->duration);

    for (uint32_t i = 0; i < at->tone_count; i++) {
        muta_tone *const tone = &passage->work.tones.at[at->tone + i];
        tone->duration = muta_fraction_multiply(tone->duration, by);
        if (!muta_fraction_is_valid(tone->duration))
            return MUTA_E_RANGE;
    }
    at->onset = onset;
    at->duration = duration;
    return muta_fraction_is_valid(onset) ? MUTA_OK : MUTA_E_RANGE;
}

bool muta_passage_keeps_time(const muta_passage *passage)
{
    for (size_t i = 0; i < passage->map.count; i++) {
        const muta_statement *const statement = &passage->map.at[i];
        if (statement->is_mirrored || muta_fraction_compare(statement->at, statement->from) != 0 ||
            muta_fraction_compare(statement->scale, muta_fraction_of(1, 1)) != 0)
            return false;
    }
    return true;
}

bool muta_passage_works_on(const muta_passage *passage, uint32_t part)
{
    if (passage->is_everything)
        return true;
    for (size_t i = 0; i < passage->work.lines.count; i++)
        if (passage->work.lines.at[i].part == part)
            return true;
    return false;
}

muta_fraction muta_passage_start(const muta_passage *passage, uint32_t part)
{
    const muta_fraction bar =
        muta_part_bar_start(passage->score, &passage->score->parts[part], passage->from.bar);

    return muta_fraction_add(bar, passage->from.onset);
}

uint32_t muta_line_first_from(const muta_event *events, const muta_line *line, muta_fraction time)
{
    uint32_t low = line->event;
    uint32_t high = line->event + line->event_count;

    while (low < high) {
        const uint32_t middle = low + (high - low) / 2;
        if (muta_fraction_compare(events[middle].onset, time) < 0)
            low = middle + 1;
        else
            high = middle;
    }
    return low;
}

muta_fraction muta_statement_place(const muta_statement *statement, muta_fraction time)
{
    const muta_fraction away = statement->is_mirrored
                                   ? muta_fraction_subtract(statement->to, time)
                                   : muta_fraction_subtract(time, statement->from);

    return muta_fraction_add(statement->at, muta_fraction_multiply(away, statement->scale));
}
