/* settle.c: a passage brought into form, divided at its stretches, and looked over. */
#include "score/texture.h"
#include <stdlib.h>
#include <string.h>

/* ---- form ---- */

static bool is_same_line(const muta_line *a, const muta_line *b)
{
    return a->part == b->part && a->voice == b->voice && a->layer == b->layer;
}

/* Tones of an event rise; those that sound alike stay in their order. */
static void sort_tones(muta_tone *tones, uint32_t count)
{
    for (uint32_t i = 1; i < count; i++) {
        const muta_tone held = tones[i];
        uint32_t to = i;
        while (to > 0 && muta_pitch_sound(tones[to - 1].pitch) > muta_pitch_sound(held.pitch)) {
            tones[to] = tones[to - 1];
            to--;
        }
        tones[to] = held;
    }
}

/* The events of all lines like `line`, in order of time, go to `events`. */
static size_t gather(const muta_weave *work, size_t line, muta_event *events, bool *taken)
{
    size_t count = 0;

    for (size_t i = line; i < work->lines.count; i++) {
        const muta_line *const of = &work->lines.at[i];
        if (taken[i] || !is_same_line(of, &work->lines.at[line]))
            continue;
        taken[i] = true;
        for (uint32_t j = of->event; j < of->event + of->event_count; j++) {
            const muta_event event = work->events.at[j];
            size_t to = count++;
            while (to > 0 && muta_fraction_compare(events[to - 1].onset, event.onset) > 0) {
                events[to] = events[to - 1];
                to--;
            }
            events[to] = event;
        }
    }
    return count;
}

static void name_tones(muta_weave *work)
{
    for (size_t i = 0; i < work->lines.count; i++)
        for (uint32_t j = 0; j < work->lines.at[i].event_count; j++) {
            const uint32_t at = work->lines.at[i].event + j;
            const muta_event *const event = &work->events.at[at];
            for (uint32_t k = 0; k < event->tone_count; k++) {
                work->tones.at[event->tone + k].line = (uint32_t)i;
                work->tones.at[event->tone + k].event = at;
            }
        }
}

/* Runs of tones that grew have left their old places behind: all move up. */
static muta_status compact(muta_passage *passage)
{
    muta_weave *const work = &passage->work;
    size_t count = 0;

    for (size_t i = 0; i < work->events.count; i++)
        count += work->events.at[i].tone_count;
    if (count == work->tones.count)
        return MUTA_OK;
    muta_tone *const tones = muta_arena_take_array(&passage->arena, count + 1, sizeof *tones);
    if (!tones)
        return MUTA_E_MEMORY;
    count = 0;
    for (size_t i = 0; i < work->events.count; i++) {
        muta_event *const event = &work->events.at[i];
        memcpy(&tones[count], &work->tones.at[event->tone], event->tone_count * sizeof *tones);
        event->tone = (uint32_t)count;
        count += event->tone_count;
    }
    work->tones.at = tones;
    work->tones.count = work->tones.room = count;
    return MUTA_OK;
}

/* Statements that go on where the one before them ended are one. */
static void find_runs(muta_passage *passage)
{
    for (uint32_t i = 0; i < passage->map.count; i++) {
        muta_statement *const row = &passage->map.at[i];
        const bool goes_on =
            i > 0 && !row[-1].is_mirrored && !row->is_mirrored &&
            muta_fraction_compare(row[-1].to, row->from) == 0 &&
            muta_fraction_compare(muta_statement_place(&row[-1], row->from), row->at) == 0;
        row->run = goes_on ? row[-1].run : i;
    }
}

muta_status muta_passage_settle(muta_passage *passage)
{
    muta_weave *const work = &passage->work;
    muta_event *const events = malloc((work->events.count + 1) * sizeof *events);
    bool *const taken = calloc(work->lines.count + 1, sizeof *taken);
    size_t line_count = 0;
    size_t event_count = 0;

    if (!events || !taken) {
        free(events);
        free(taken);
        return MUTA_E_MEMORY;
    }
    for (size_t i = 0; i < work->events.count; i++)
        sort_tones(&work->tones.at[work->events.at[i].tone], work->events.at[i].tone_count);
    for (size_t i = 0; i < work->lines.count; i++) {
        if (taken[i])
            continue;
        muta_line line = work->lines.at[i];
        line.event = (uint32_t)event_count;
        line.event_count = (uint32_t)gather(work, i, events + event_count, taken);
        event_count += line.event_count;
        work->lines.at[line_count++] = line;
    }
    work->lines.count = line_count;
    if (event_count > 0)
        memcpy(work->events.at, events, event_count * sizeof *events);
    work->events.count = event_count; /* without those of lines that were emptied */
    free(events);
    free(taken);
    MUTA_TRY(compact(passage));
    name_tones(work);
    find_runs(passage);
    if (passage->stretches.count == 1)
        passage->stretches.at[0].length = passage->length;
    return muta_passage_lay_grid(passage);
}

/* ---- stretches ---- */

size_t muta_passage_stretch_count(const muta_passage *passage)
{
    return passage->stretches.count;
}

void muta_passage_stretch_at(const muta_passage *passage, size_t nth, muta_fraction *onset,
                             muta_fraction *length)
{
    *onset = passage->stretches.at[nth].onset;
    *length = passage->stretches.at[nth].length;
}

muta_fraction muta_passage_stretch_end(const muta_passage *passage, muta_fraction time)
{
    for (size_t i = 0; i + 1 < passage->stretches.count; i++) {
        const muta_stretch *const of = &passage->stretches.at[i];
        const muta_fraction end = muta_fraction_add(of->onset, of->length);
        if (muta_fraction_compare(time, end) < 0)
            return end;
    }
    return passage->length;
}

/* Chords that a pass set are counted from the start of the stretch. */
static muta_status take_chords(const muta_passage *passage, const muta_stretch *of,
                               muta_passage *made)
{
    muta_passage_chord *const chords =
        muta_arena_take_array(&made->arena, passage->chord_count + 1, sizeof *chords);

    if (!chords)
        return MUTA_E_MEMORY;
    for (size_t i = 0; i < passage->chord_count; i++) {
        chords[i] = passage->chords[i];
        chords[i].from = muta_fraction_subtract(chords[i].from, of->onset);
        chords[i].to = muta_fraction_subtract(chords[i].to, of->onset);
    }
    return muta_passage_set_chords(made, chords, passage->chord_count);
}

muta_status muta_passage_take_stretch(const muta_passage *passage, size_t nth,
                                      muta_passage **stretch)
{
    const muta_stretch of = passage->stretches.at[nth];
    const muta_fraction end = muta_fraction_add(of.onset, of.length);
    muta_passage *made;

    MUTA_TRY(muta_passage_new_like(passage, &made));
    made->stretches.count = 1;
    made->stretches.at[0] = (muta_stretch){of.from, of.to, MUTA_ZERO, of.length};
    for (size_t i = 0; i < made->keys.count; i++)
        made->keys.at[i].onset = muta_fraction_subtract(made->keys.at[i].onset, of.onset);
    muta_status status = muta_passage_append_part(made, passage, of.onset, end, MUTA_ZERO, NULL);
    if (status == MUTA_OK && passage->has_own_chords)
        status = take_chords(passage, &of, made);
    if (status != MUTA_OK) {
        muta_passage_free(made);
        return status;
    }
    *stretch = made;
    return MUTA_OK;
}

void muta_passage_number_behind(muta_passage *stretch, const muta_passage *made)
{
    stretch->next_id = made->next_id > stretch->next_id ? made->next_id : stretch->next_id;
}

muta_status muta_passage_add_stretch(muta_passage *passage, size_t nth, const muta_passage *stretch)
{
    muta_stretch *const of = &passage->stretches.at[nth];
    const muta_fraction onset = passage->length;

    of->onset = onset;
    of->length = stretch->length;
    passage->next_id = stretch->next_id > passage->next_id ? stretch->next_id : passage->next_id;
    /* A pass makes the values of all stretches longer alike. */
    passage->slower = stretch->slower;
    passage->faster = stretch->faster;
    return muta_passage_append(passage, stretch, onset, NULL);
}

/* ---- what a passage promises ---- */

static const char *check_event(const muta_passage *passage, const muta_event *event)
{
    const muta_fraction end = muta_fraction_add(event->onset, event->duration);

    if (event->onset.top < 0 || muta_fraction_compare(end, passage->length) > 0)
        return "an event lies outside the passage";
    if (event->is_grace != (event->duration.top == 0) && !event->is_cue)
        return "a grace note lasts, or another note does not";
    if (event->written.statement >= passage->map.count)
        return "an event belongs to no statement";
    for (uint32_t i = 0; i < event->tone_count; i++) {
        const muta_tone *const tone = &passage->work.tones.at[event->tone + i];
        if (muta_fraction_compare(tone->duration, event->duration) > 0)
            return "a tone outlasts its event";
        if (i > 0 && muta_pitch_sound(tone[-1].pitch) > muta_pitch_sound(tone->pitch))
            return "the tones of an event do not rise";
    }
    return NULL;
}

static const char *check_line(const muta_passage *passage, const muta_line *line)
{
    muta_fraction end = MUTA_ZERO;

    for (uint32_t i = 0; i < line->event_count; i++) {
        const muta_event *const event = &passage->work.events.at[line->event + i];
        const char *const why = check_event(passage, event);
        if (why)
            return why;
        if (muta_fraction_compare(event->onset, end) < 0)
            return "the events of a line overlap";
        end = muta_fraction_add(event->onset, event->duration);
    }
    return NULL;
}

static int by_id(const void *a, const void *b)
{
    const uint32_t one = *(const uint32_t *)a;
    const uint32_t two = *(const uint32_t *)b;

    return one < two ? -1 : one > two;
}

/* The ids of a passage's tones, and of their origins, each in order. */
static uint32_t *sorted_ids(const muta_passage *passage, bool origins)
{
    const muta_weave *const work = &passage->work;
    uint32_t *const ids = malloc((work->tones.count + 1) * sizeof *ids);

    for (size_t i = 0; ids && i < work->tones.count; i++)
        ids[i] = origins ? work->tones.at[i].origin : work->tones.at[i].id;
    if (ids)
        qsort(ids, work->tones.count, sizeof *ids, by_id);
    return ids;
}

static const char *check_ids(const muta_passage *passage, const muta_passage *first)
{
    uint32_t *const ids = sorted_ids(passage, false);
    uint32_t *const origins = sorted_ids(passage, true);
    uint32_t *const known = sorted_ids(first, false);
    const bool can_look = ids && origins && known; /* without memory nothing is known to be wrong */
    const char *why = NULL;
    size_t at = 0;

    for (size_t i = 0; can_look && !why && i < passage->work.tones.count; i++) {
        if (i > 0 && ids[i] == ids[i - 1])
            why = "two tones have one id";
        while (at < first->work.tones.count && known[at] < origins[i])
            at++;
        if (origins[i] != 0 && (at == first->work.tones.count || known[at] != origins[i]))
            why = "a tone has an origin that is not in the passage first read";
    }
    free(ids);
    free(origins);
    free(known);
    return why;
}

static bool is_pitch_there(const muta_passage *passage, const muta_tone *tone)
{
    const muta_part *const part = &passage->score->parts[passage->work.lines.at[tone->line].part];
    const muta_note *const note = &part->notes.at[tone->source];
    const muta_moment at = {note->bar, note->staff, note->onset};

    return muta_pitch_is_equal(muta_pitch_add(note->pitch, muta_part_transposition_at(part, at)),
                               tone->pitch);
}

bool muta_passage_is_sound(const muta_passage *passage, const muta_passage *first, const char **why)
{
    *why = passage->context == first->context ? NULL : "the context is another";
    for (size_t i = 0; !*why && i < passage->work.lines.count; i++)
        *why = check_line(passage, &passage->work.lines.at[i]);
    for (size_t i = 0; !*why && i < passage->work.tones.count; i++) {
        const muta_tone *const tone = &passage->work.tones.at[i];
        if (!tone->is_fixed && tone->source != MUTA_NO_SOURCE &&
            tone->is_pitch_changed == is_pitch_there(passage, tone))
            *why = "a tone says wrongly whether its pitch changed";
    }
    if (!*why)
        *why = check_ids(passage, first);
    return !*why;
}
