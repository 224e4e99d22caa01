/* around.c: what is in force around a moment of a passage: chord, scale and metre. */
#include "score/texture.h"
#include "theory/table.h"

enum {
    LOWEST_TUNE = 46 /* semitones: what lies below B flat 3 on average is a bass */
};

/* Where a moment stood in the passage first read. */
static muta_fraction first_time(const muta_statement *statement, muta_fraction time)
{
    const muta_fraction away =
        muta_fraction_divide(muta_fraction_subtract(time, statement->at), statement->scale);

    return statement->is_mirrored ? muta_fraction_subtract(statement->to, away)
                                  : muta_fraction_add(statement->from, away);
}

static muta_fraction first_moment(const muta_passage *passage, muta_fraction time)
{
    const muta_statement *statement = NULL;

    if (passage->map.count == 1)
        return first_time(&passage->map.at[0], time);
    for (size_t i = 0; i < passage->map.count; i++)
        if (muta_fraction_compare(passage->map.at[i].at, time) <= 0)
            statement = &passage->map.at[i];
    return statement ? first_time(statement, time) : time;
}

/* The part of a chord that lies in a stretch of time; false when there is none. */
static bool clip_chord(muta_passage_chord *chord, muta_fraction from, muta_fraction to)
{
    chord->from = muta_fraction_max(chord->from, from);
    if (muta_fraction_compare(chord->to, to) > 0)
        chord->to = to;
    return muta_fraction_compare(chord->from, chord->to) < 0;
}

/* A chord where a statement says it now. */
static void state_chord(muta_passage_chord *chord, const muta_statement *statement)
{
    const muta_fraction from = muta_statement_place(statement, chord->from);
    const muta_fraction to = muta_statement_place(statement, chord->to);

    chord->from = statement->is_mirrored ? to : from;
    chord->to = statement->is_mirrored ? from : to;
}

static int in_time(const void *a, const void *b)
{
    const muta_passage_chord *const one = a;
    const muta_passage_chord *const two = b;
    const int begins = muta_fraction_compare(one->from, two->from);
    const int ends = muta_fraction_compare(one->to, two->to);

    if (begins != 0 || ends != 0)
        return begins != 0 ? begins : ends;
    if (one->value.root != two->value.root)
        return one->value.root < two->value.root ? -1 : 1;
    return one->value.kind < two->value.kind ? -1 : one->value.kind > two->value.kind;
}

muta_status muta_passage_list_chords(const muta_passage *passage, muta_arena *arena,
                                     muta_passage_chord **chords, size_t *count)
{
    const size_t rows = passage->has_own_chords ? 1 : passage->map.count;

    *count = 0;
    *chords = muta_arena_take_array(arena, rows * passage->chord_count + 1, sizeof **chords);
    if (!*chords)
        return MUTA_E_MEMORY;
    for (size_t row = 0; row < rows; row++)
        for (size_t i = 0; i < passage->chord_count; i++) {
            const muta_statement *const statement =
                passage->has_own_chords ? NULL : &passage->map.at[row];
            muta_passage_chord chord = passage->chords[i];
            if (statement && !clip_chord(&chord, statement->from, statement->to))
                continue;
            if (statement)
                state_chord(&chord, statement);
            if (clip_chord(&chord, MUTA_ZERO, passage->length))
                (*chords)[(*count)++] = chord;
        }
    muta_sort(*chords, *count, sizeof **chords, in_time);
    return MUTA_OK;
}

bool muta_passage_has_symbols(const muta_passage *passage)
{
    for (size_t i = 0; i < passage->chord_count; i++)
        if (passage->chords[i].is_written)
            return true;
    return false;
}

bool muta_lies_low(const muta_texture *work, const muta_line *line)
{
    int64_t semitones = 0;

    for (uint32_t i = line->event; i < line->event + line->event_count; i++)
        semitones += muta_pitch_semitones(muta_texture_top(work, i)->pitch);
    return semitones < (int64_t)line->event_count * LOWEST_TUNE;
}

const muta_line *muta_line_alone(const muta_passage *in)
{
    const muta_texture work = muta_passage_work(in);
    const muta_line *found = NULL;

    if (!in->is_everything || in->has_own_chords || muta_passage_has_symbols(in))
        return NULL;
    for (size_t i = 0; i < work.line_count; i++) {
        if (work.lines[i].event_count == 0)
            continue;
        if (found)
            return NULL;
        found = &work.lines[i];
    }
    for (uint32_t i = 0; found && i < found->event_count; i++)
        if (work.events[found->event + i].tone_count > 1)
            return NULL;
    return found;
}

const muta_passage_chord *muta_passage_chord_at(const muta_passage *passage, muta_fraction time)
{
    const muta_fraction at = passage->has_own_chords ? time : first_moment(passage, time);
    size_t low = 0;
    size_t high = passage->chord_count;

    if (high == 0)
        return NULL;
    while (high - low > 1) {
        const size_t middle = low + (high - low) / 2;
        if (muta_fraction_compare(passage->chords[middle].from, at) <= 0)
            low = middle;
        else
            high = middle;
    }
    const muta_passage_chord *const chord = &passage->chords[low];
    return muta_fraction_compare(chord->from, at) <= 0 && muta_fraction_compare(at, chord->to) < 0
               ? chord
               : NULL;
}

/* ---- key ---- */

muta_key muta_passage_key_at(const muta_passage *passage, const muta_tone *tone, muta_fraction time)
{
    const muta_event *const event = &passage->work.events.at[tone->event];
    const uint32_t part = passage->work.lines.at[tone->line].part;
    muta_key key = {0, MUTA_MAJOR}; /* none counts as C major's */

    for (size_t i = 0; i < passage->keys.count; i++) {
        const muta_passage_key_entry *const entry = &passage->keys.at[i];
        if (entry->part == part &&
            (entry->staff == MUTA_ALL_STAVES || entry->staff == event->staff) &&
            muta_fraction_compare(entry->onset, time) <= 0)
            key = entry->key;
    }
    return key;
}

int32_t muta_passage_fifths_at(const muta_passage *passage, const muta_tone *tone,
                               muta_fraction time)
{
    return muta_passage_key_at(passage, tone, time).fifths;
}

bool muta_passage_key_in_force(const muta_passage *passage, muta_fraction time, muta_key *key)
{
    const muta_passage_key_entry *found = NULL;

    for (size_t i = 0; i < passage->keys.count; i++) {
        const muta_passage_key_entry *const entry = &passage->keys.at[i];
        if (muta_fraction_compare(entry->onset, time) <= 0 &&
            (!found || muta_fraction_compare(entry->onset, found->onset) > 0))
            found = entry;
    }
    if (found)
        *key = found->key;
    return found;
}

bool muta_passage_key(const muta_passage *passage, muta_key *key)
{
    return muta_passage_key_in_force(passage, MUTA_ZERO, key);
}

uint32_t muta_part_tied_flags(const muta_part *part, uint32_t note)
{
    uint32_t flags = 0;

    for (; note < part->notes.count; note = part->notes.at[note].tied_to)
        flags |= part->notes.at[note].flags;
    return flags;
}

bool muta_texture_is_plain(const muta_texture *work, uint32_t index)
{
    const muta_event *const event = &work->events[index];

    return !event->is_grace && !event->is_cue && !work->tones[event->tone].is_fixed;
}

const muta_line *muta_texture_tune(const muta_texture *work)
{
    for (size_t i = 0; i < work->line_count; i++)
        if (work->lines[i].is_tune)
            return &work->lines[i];
    return NULL;
}

bool muta_passage_is_sung(const muta_passage *passage, const muta_line *line)
{
    const muta_part *const part = &passage->score->parts[line->part];
    muta_instrument instrument;

    for (uint32_t i = line->event; i < line->event + line->event_count; i++)
        if (passage->work.events.at[i].written.syllable != MUTA_NO_SOURCE)
            return true;
    return muta_part_instrument(part, &instrument) && muta_text_is(instrument.family, "voices") &&
           part->staves == 1;
}

const muta_line *muta_texture_bass(const muta_texture *work)
{
    for (size_t i = 0; i < work->line_count; i++)
        if (work->lines[i].is_bass)
            return &work->lines[i];
    return NULL;
}

const muta_tone *muta_texture_top(const muta_texture *work, uint32_t index)
{
    const muta_event *const event = &work->events[index];

    return &work->tones[event->tone + event->tone_count - 1];
}

static bool has_letter(const muta_tone *tone, int step, int32_t *alter)
{
    if (tone->is_fixed || muta_pitch_step(tone->pitch) != step)
        return false;
    *alter = tone->pitch.alter;
    return true;
}

/* In the bar where an event begins, in its own line. */
static bool letter_beside(const muta_passage *passage, uint32_t event, int step, int32_t *alter)
{
    enum {
        AROUND = 8 /* events, before and behind */
    };
    const muta_texture work = muta_passage_work(passage);
    const muta_line *const line = &work.lines[work.tones[work.events[event].tone].line];
    muta_beat beat;

    muta_passage_beat_at(passage, work.events[event].onset, &beat);
    const muta_fraction end = muta_fraction_add(beat.bar, beat.length);
    for (int64_t away = 0; away <= AROUND; away++)
        for (int side = -1; side <= 1; side += 2) {
            const int64_t at = (int64_t)event + side * away;
            if (at < line->event || at >= (int64_t)line->event + line->event_count ||
                muta_fraction_compare(work.events[at].onset, beat.bar) < 0 ||
                muta_fraction_compare(work.events[at].onset, end) >= 0)
                continue;
            if (has_letter(muta_texture_top(&work, (uint32_t)at), step, alter))
                return true;
        }
    return false;
}

/* The first event of a line that sounds at a moment or begins behind it. */
static uint32_t first_sounding(const muta_texture *texture, const muta_line *line,
                               muta_fraction from)
{
    const uint32_t at = muta_line_first_from(texture->events, line, from);
    const muta_event *const before = at > line->event ? &texture->events[at - 1] : NULL;

    return before && muta_fraction_compare(muta_fraction_add(before->onset, before->duration),
                                           from) > 0
               ? at - 1
               : at;
}

/* Whether an event of a line, by its place, begins before a moment. */
static bool begins_before(const muta_texture *texture, const muta_line *line, uint32_t at,
                          muta_fraction to)
{
    return at < line->event + line->event_count &&
           muta_fraction_compare(texture->events[at].onset, to) < 0;
}

/* While an event sounds, in a line of a texture. */
static bool letter_in_line(const muta_texture *texture, const muta_line *line,
                           const muta_event *event, int step, int32_t *alter)
{
    const muta_fraction end = muta_fraction_add(event->onset, event->duration);

    for (uint32_t at = first_sounding(texture, line, event->onset);
         begins_before(texture, line, at, end); at++)
        for (uint32_t i = 0; i < texture->events[at].tone_count; i++)
            if (has_letter(&texture->tones[texture->events[at].tone + i], step, alter))
                return true;
    return false;
}

static bool letter_among(const muta_texture *texture, const muta_event *event, int step,
                         int32_t *alter)
{
    for (size_t i = 0; i < texture->line_count; i++)
        if (letter_in_line(texture, &texture->lines[i], event, step, alter))
            return true;
    return false;
}

bool muta_passage_letter_at(const muta_passage *passage, uint32_t event, int step, int32_t *alter)
{
    const muta_texture work = muta_passage_work(passage);
    const muta_texture context = muta_passage_context(passage);
    const muta_event *const of = &work.events[event];

    return letter_beside(passage, event, step, alter) || letter_among(&context, of, step, alter) ||
           letter_among(&work, of, step, alter);
}

bool muta_line_sounding(const muta_texture *texture, const muta_line *line, muta_fraction at,
                        int32_t *sound)
{
    uint32_t nth = first_sounding(texture, line, at);
    const uint32_t end = line->event + line->event_count;

    while (nth < end && texture->events[nth].is_grace)
        nth++;
    if (nth == end || muta_fraction_compare(texture->events[nth].onset, at) > 0 ||
        texture->tones[texture->events[nth].tone].is_fixed)
        return false;
    *sound = muta_pitch_sound(texture->tones[texture->events[nth].tone].pitch) / MUTA_SEMITONE;
    return true;
}

static bool rubs(const muta_event *event, const muta_tone *tone, muta_pitch pitch)
{
    const int32_t apart = (muta_pitch_sound(tone->pitch) - muta_pitch_sound(pitch)) / MUTA_SEMITONE;
    const int32_t by_class = muta_semitones_class(apart);

    return !tone->is_fixed && !event->is_grace && !event->is_hidden &&
           (apart == 0 || by_class == 1 || by_class == 11);
}

static bool rubs_in_line(const muta_texture *texture, const muta_line *line, muta_fraction from,
                         muta_fraction to, muta_pitch pitch)
{
    for (uint32_t at = first_sounding(texture, line, from); begins_before(texture, line, at, to);
         at++) {
        const muta_event *const event = &texture->events[at];
        for (uint32_t i = 0; i < event->tone_count; i++)
            if (rubs(event, &texture->tones[event->tone + i], pitch))
                return true;
    }
    return false;
}

bool muta_passage_rubs(const muta_passage *passage, const muta_line *own, muta_fraction from,
                       muta_fraction to, muta_pitch pitch)
{
    const muta_texture work = muta_passage_work(passage);
    const muta_texture context = muta_passage_context(passage);

    for (size_t i = 0; i < context.line_count; i++)
        if (rubs_in_line(&context, &context.lines[i], from, to, pitch))
            return true;
    for (size_t i = 0; i < work.line_count; i++)
        if (&work.lines[i] != own && rubs_in_line(&work, &work.lines[i], from, to, pitch))
            return true;
    return false;
}

const muta_note *muta_passage_note(const muta_passage *passage, size_t event)
{
    static const muta_note none = {.tied_from = MUTA_NO_NOTE, .tied_to = MUTA_NO_NOTE};
    const muta_event *const of = &passage->work.events.at[event];
    const uint32_t part = passage->work.lines.at[passage->work.tones.at[of->tone].line].part;

    return of->written.source == MUTA_NO_SOURCE
               ? &none
               : &passage->score->parts[part].notes.at[of->written.source];
}

uint32_t muta_texture_main(const muta_texture *work, const muta_line *line, uint32_t index)
{
    const int step = work->events[index].is_after ? -1 : 1;
    int64_t at = index;

    while (at >= line->event && at < (int64_t)line->event + line->event_count &&
           work->events[at].is_grace)
        at += step;
    return at < line->event || at >= (int64_t)line->event + line->event_count ? index
                                                                              : (uint32_t)at;
}

/* ---- metre ---- */

void muta_passage_beat_at(const muta_passage *passage, muta_fraction time, muta_beat *beat)
{
    const muta_grid_bar bar = muta_passage_bar_at(passage, time);
    const muta_metre *const metre =
        passage->is_remetred ? &passage->metre : &passage->score->bars[bar.like].metre;
    const bool is_known = muta_fraction_is_valid(metre->length) && metre->beat_type > 0;
    const muta_fraction unit =
        is_known ? muta_fraction_of(4, metre->beat_type) : muta_fraction_of(1, 1);

    beat->bar = muta_fraction_subtract(bar.start, bar.lead);
    beat->length = bar.length;
    beat->is_compound = is_known && metre->group_count > 0 && metre->groups[0] == 3;
    beat->beat = beat->is_compound ? muta_fraction_scale(unit, 3) : unit;
    beat->end = muta_fraction_add(bar.start, bar.length);
    beat->is_pickup = bar.lead.top > 0;
}

bool muta_passage_is_downbeat(const muta_passage *passage, muta_fraction time)
{
    muta_beat beat;

    muta_passage_beat_at(passage, time, &beat);
    return muta_fraction_compare(beat.bar, time) == 0;
}
