/* weave.c: a passage filled event by event: as they were, or divided into pieces. */
#include "score/texture.h"

muta_status muta_passage_begin(muta_passage *to, const muta_passage *from)
{
    if (!MUTA_RESERVE(&to->arena, &to->map, from->map.count + 1))
        return MUTA_E_MEMORY;
    for (size_t i = 0; i < from->map.count; i++)
        to->map.at[to->map.count++] = from->map.at[i];
    to->length = from->length;
    return MUTA_OK;
}

muta_status muta_passage_begin_line(muta_passage *to, const muta_passage *from, size_t line)
{
    muta_line *const made = MUTA_PUSH(&to->arena, &to->work.lines);

    if (!made)
        return MUTA_E_MEMORY;
    *made = from->work.lines.at[line];
    made->event = (uint32_t)to->work.events.count;
    made->event_count = 0;
    return MUTA_OK;
}

/* A copy of an event at the end of the last line, without tones. */
static muta_event *push_event(muta_passage *to, const muta_event *like)
{
    muta_event *const event = MUTA_PUSH(&to->arena, &to->work.events);

    if (!event)
        return NULL;
    *event = *like;
    event->tone = (uint32_t)to->work.tones.count;
    event->tone_count = 0;
    to->work.lines.at[to->work.lines.count - 1].event_count++;
    return event;
}

static muta_tone *push_tone(muta_passage *to, muta_event *event, const muta_tone *like)
{
    muta_tone *const tone = MUTA_PUSH(&to->arena, &to->work.tones);

    if (!tone)
        return NULL;
    *tone = *like;
    tone->line = (uint32_t)to->work.lines.count - 1;
    tone->event = (uint32_t)to->work.events.count - 1;
    event->tone_count++;
    return tone;
}

muta_status muta_passage_put_event(muta_passage *to, const muta_passage *from, size_t event,
                                   muta_fraction onset, muta_fraction duration)
{
    const muta_event *const of = &from->work.events.at[event];
    muta_event *const made = push_event(to, of);

    if (!made)
        return MUTA_E_MEMORY;
    made->onset = onset;
    made->duration = duration;
    for (uint32_t i = 0; i < of->tone_count; i++) {
        muta_tone *const tone = push_tone(to, made, &from->work.tones.at[of->tone + i]);
        if (!tone)
            return MUTA_E_MEMORY;
        if (muta_fraction_compare(tone->duration, of->duration) == 0 ||
            muta_fraction_compare(tone->duration, duration) > 0)
            tone->duration = duration;
    }
    return MUTA_OK;
}

/* Which tones a piece sounds, and what it is of the tone that is divided. */
struct cut {
    bool is_first; /* of those that last */
    bool is_last;
    bool has_lasted; /* the first that lasts is done */
};

static muta_status put_piece(muta_passage *to, const muta_passage *from, const muta_event *of,
                             const muta_piece *piece, const struct cut *cut)
{
    muta_event *const made = push_event(to, of);

    if (!made)
        return MUTA_E_MEMORY;
    made->onset = piece->onset;
    made->duration = piece->duration;
    made->is_grace = piece->duration.top == 0;
    made->written.grace = (uint8_t)piece->grace;
    made->is_after = made->is_grace && cut->has_lasted;
    made->written.has_before = of->written.has_before || (!made->is_grace && !cut->is_first);
    made->written.has_behind = of->written.has_behind || (!made->is_grace && !cut->is_last);
    if (!cut->is_first) {
        made->written.syllable = made->written.joined = MUTA_NO_SOURCE;
        made->written.ornament = 0;
        made->depth = 0;
    }
    for (uint32_t i = cut->is_first ? 0 : of->tone_count - 1; i < of->tone_count; i++) {
        muta_tone *const tone = push_tone(to, made, &from->work.tones.at[of->tone + i]);
        if (!tone)
            return MUTA_E_MEMORY;
        if (i + 1 == of->tone_count || muta_fraction_compare(tone->duration, piece->duration) > 0)
            tone->duration = piece->duration;
        if (!cut->is_first)
            tone->id = ++to->next_id;
        if (i + 1 == of->tone_count)
            muta_passage_set_pitch(to, tone, piece->pitch);
    }
    return MUTA_OK;
}

muta_status muta_passage_put_pieces(muta_passage *to, const muta_passage *from, size_t event,
                                    const muta_piece *pieces, size_t count)
{
    const muta_event *const of = &from->work.events.at[event];
    size_t last = 0;
    bool lasted = false;

    for (size_t i = 0; i < count; i++)
        last = pieces[i].duration.top > 0 ? i : last;
    for (size_t i = 0; i < count; i++) {
        const bool lasts = pieces[i].duration.top > 0;
        const struct cut cut = {lasts && !lasted, i == last, lasted};
        MUTA_TRY(put_piece(to, from, of, &pieces[i], &cut));
        lasted = lasted || lasts;
    }
    return MUTA_OK;
}

muta_status muta_passage_take_voice(muta_passage *passage, uint32_t part, uint8_t staff,
                                    uint32_t nth, uint32_t *voice)
{
    const muta_part *const of = &passage->score->parts[part];
    uint32_t index = (uint32_t)of->voices.count;

    *voice = muta_part_voice_at(of, staff, (size_t)nth + 1);
    if (*voice != MUTA_NO_NOTE)
        return MUTA_OK;
    nth -= (uint32_t)muta_score_voice_count(passage->score, part, staff);
    for (size_t i = 0; i < passage->voices.count; i++) {
        if (passage->voices.at[i].part != part)
            continue;
        if (passage->voices.at[i].staff == staff && nth-- == 0) {
            *voice = index;
            return MUTA_OK;
        }
        index++;
    }
    muta_new_voice *const made = MUTA_PUSH(&passage->arena, &passage->voices);
    if (!made)
        return MUTA_E_MEMORY;
    *made = (muta_new_voice){part, staff};
    *voice = index;
    return MUTA_OK;
}

muta_status muta_passage_begin_new_line(muta_passage *to, uint32_t part, uint8_t staff,
                                        uint32_t nth)
{
    muta_line line = {
        .part = part, .staff = staff, .event = (uint32_t)to->work.events.count, .layer = 0};

    MUTA_TRY(muta_passage_take_voice(to, part, staff, nth, &line.voice));
    muta_line *const made = MUTA_PUSH(&to->arena, &to->work.lines);
    if (!made)
        return MUTA_E_MEMORY;
    *made = line;
    return MUTA_OK;
}

void muta_passage_turn_stems(muta_passage *to, int8_t stem)
{
    to->work.lines.at[to->work.lines.count - 1].stem = stem;
}

muta_status muta_passage_put_new(muta_passage *to, muta_fraction onset, muta_fraction duration,
                                 const muta_pitch *pitches, size_t count)
{
    const muta_event like = {.onset = onset,
                             .duration = duration,
                             .written.source = MUTA_NO_SOURCE,
                             .written.syllable = MUTA_NO_SOURCE,
                             .written.joined = MUTA_NO_SOURCE,
                             .written.stem = to->work.lines.at[to->work.lines.count - 1].stem,
                             .staff = to->work.lines.at[to->work.lines.count - 1].staff};
    muta_event *const event = push_event(to, &like);

    if (!event)
        return MUTA_E_MEMORY;
    for (size_t i = 0; i < count; i++) {
        const muta_tone tone = {.pitch = pitches[i],
                                .duration = duration,
                                .id = ++to->next_id,
                                .source = MUTA_NO_SOURCE};
        if (!push_tone(to, event, &tone))
            return MUTA_E_MEMORY;
    }
    return MUTA_OK;
}
