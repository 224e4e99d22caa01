/* append.c: pieces of one passage put into another, at other times and of other lengths; the map of
 * what is stated where goes along. */
#include "score/texture.h"
#include <stdlib.h>
#include <string.h>

/* Whether a piece of the passage first read is stated already: then this is a further statement. */
static bool is_stated(const muta_passage *passage, size_t before, const muta_statement *statement)
{
    for (size_t i = 0; i < before; i++)
        if (muta_fraction_compare(passage->map.at[i].from, statement->to) < 0 &&
            muta_fraction_compare(statement->from, passage->map.at[i].to) < 0)
            return true;
    return false;
}

/* The part of a line that begins in [from, to): grace notes go with what they belong to. */
static void find_events(const muta_weave *weave, const muta_line *line, muta_fraction from,
                        muta_fraction to, uint32_t *first, uint32_t *end)
{
    const uint32_t behind = line->event + line->event_count;

    *first = muta_line_first_from(weave->events.at, line, from);
    while (*first < behind && from.top != 0 && weave->events.at[*first].is_after &&
           muta_fraction_compare(weave->events.at[*first].onset, from) == 0)
        ++*first;
    *end = muta_line_first_from(weave->events.at, line, to);
    *end = *end < *first ? *first : *end;
    while (*end < behind && weave->events.at[*end].is_after &&
           muta_fraction_compare(weave->events.at[*end].onset, to) == 0)
        ++*end;
}

/* A piece of one passage on its way into another. */
struct transfer {
    muta_passage *to;
    const muta_passage *from;
    muta_fraction start; /* of the piece, in `from` */
    muta_fraction end;
    muta_fraction onset;  /* where it goes */
    uint32_t *statements; /* by statement of `from`: the one it becomes, if the piece holds any */
};

static muta_status transfer_event(const struct transfer *transfer, const muta_event *event)
{
    muta_weave *const work = &transfer->to->work;
    const uint32_t line = (uint32_t)work->lines.count - 1;
    muta_event *const copy = &work->events.at[work->events.count];
    const muta_statement *statement;
    muta_fraction end;

    *copy = *event;
    copy->tone = (uint32_t)work->tones.count;
    copy->written.statement = transfer->statements[event->written.statement];
    statement = &transfer->to->map.at[copy->written.statement];
    copy->onset =
        muta_fraction_add(muta_fraction_subtract(event->onset, transfer->start), transfer->onset);
    end = muta_fraction_subtract(transfer->end, event->onset);
    if (muta_fraction_compare(copy->duration, end) > 0)
        copy->duration = end;
    if (!muta_fraction_is_valid(copy->onset) || !muta_fraction_is_valid(copy->duration))
        return MUTA_E_RANGE;
    const bool again = is_stated(transfer->to, copy->written.statement, statement);
    for (uint32_t i = 0; i < event->tone_count; i++) {
        muta_tone *const tone = &work->tones.at[work->tones.count++];
        *tone = transfer->from->work.tones.at[event->tone + i];
        tone->line = line;
        tone->event = (uint32_t)work->events.count;
        if (muta_fraction_compare(tone->duration, end) > 0)
            tone->duration = end;
        if (again) /* a further statement is new tones of the same origin */
            tone->id = ++transfer->to->next_id;
    }
    work->events.count++;
    return MUTA_OK;
}

static muta_status transfer_lines(const struct transfer *transfer)
{
    const muta_weave *const from = &transfer->from->work;
    muta_weave *const work = &transfer->to->work;

    for (size_t i = 0; i < from->lines.count; i++) {
        uint32_t first;
        uint32_t end;
        find_events(from, &from->lines.at[i], transfer->start, transfer->end, &first, &end);
        muta_line *const line = &work->lines.at[work->lines.count++];
        *line = from->lines.at[i];
        line->event = (uint32_t)work->events.count;
        line->event_count = end - first;
        for (uint32_t j = first; j < end; j++)
            MUTA_TRY(transfer_event(transfer, &from->events.at[j]));
    }
    return MUTA_OK;
}

/* What a piece holds of a statement; false when it holds nothing. */
static bool cut_statement(const struct transfer *transfer, const muta_statement *from,
                          muta_statement *to)
{
    const muta_fraction lasts =
        muta_fraction_multiply(muta_fraction_subtract(from->to, from->from), from->scale);
    const muta_fraction ends = muta_fraction_add(from->at, lasts);
    const muta_fraction begin = muta_fraction_max(from->at, transfer->start);
    const muta_fraction end = muta_fraction_compare(ends, transfer->end) < 0 ? ends : transfer->end;

    *to = *from;
    if (muta_fraction_compare(begin, end) >= 0)
        return false;
    /* Moments are linear within a statement: what lies outside the piece is cut off. */
    const muta_fraction cut_before =
        muta_fraction_divide(muta_fraction_subtract(begin, from->at), from->scale);
    const muta_fraction cut_behind =
        muta_fraction_divide(muta_fraction_subtract(ends, end), from->scale);
    to->from = muta_fraction_add(from->from, from->is_mirrored ? cut_behind : cut_before);
    to->to = muta_fraction_subtract(from->to, from->is_mirrored ? cut_before : cut_behind);
    to->at = muta_fraction_add(muta_fraction_subtract(begin, transfer->start), transfer->onset);
    return true;
}

/* The rows of the map for a piece. */
static muta_status transfer_map(const struct transfer *transfer)
{
    uint32_t last = (uint32_t)transfer->to->map.count;

    for (size_t i = 0; i < transfer->from->map.count; i++) {
        muta_statement cut;
        transfer->statements[i] = last;
        if (!cut_statement(transfer, &transfer->from->map.at[i], &cut))
            continue;
        muta_statement *const to = MUTA_PUSH(&transfer->to->arena, &transfer->to->map);
        if (!to)
            return MUTA_E_MEMORY;
        *to = cut;
        last = (uint32_t)transfer->to->map.count - 1;
        transfer->statements[i] = last;
    }
    return MUTA_OK;
}

/* Room for what a piece holds: of a long passage in many stretches each is a small part. */
static muta_status make_room(const struct transfer *transfer)
{
    const muta_weave *const from = &transfer->from->work;
    muta_passage *const to = transfer->to;
    size_t events = 0;
    size_t tones = 0;

    for (size_t i = 0; i < from->lines.count; i++) {
        uint32_t first;
        uint32_t end;
        find_events(from, &from->lines.at[i], transfer->start, transfer->end, &first, &end);
        events += end - first;
        for (uint32_t j = first; j < end; j++)
            tones += from->events.at[j].tone_count;
    }
    return MUTA_RESERVE(&to->arena, &to->work.lines, from->lines.count + 1) &&
                   MUTA_RESERVE(&to->arena, &to->work.events, events + 1) &&
                   MUTA_RESERVE(&to->arena, &to->work.tones, tones + 1)
               ? MUTA_OK
               : MUTA_E_MEMORY;
}

muta_status muta_passage_make_room(muta_passage *to, const muta_passage *like)
{
    return MUTA_RESERVE(&to->arena, &to->work.events, like->work.events.count + 1) &&
                   MUTA_RESERVE(&to->arena, &to->work.tones, like->work.tones.count + 1)
               ? MUTA_OK
               : MUTA_E_MEMORY;
}

muta_status muta_passage_append_part(muta_passage *to, const muta_passage *from,
                                     muta_fraction start, muta_fraction end, muta_fraction onset,
                                     muta_tones *tones)
{
    muta_weave *const work = &to->work;
    const size_t first = work->tones.count;
    const muta_fraction ends = muta_fraction_add(onset, muta_fraction_subtract(end, start));

    if (!muta_fraction_is_valid(ends))
        return MUTA_E_RANGE;
    struct transfer transfer = {to, from, start, end, onset, NULL};
    MUTA_TRY(make_room(&transfer));
    transfer.statements = malloc((from->map.count + 1) * sizeof *transfer.statements);
    if (!transfer.statements)
        return MUTA_E_MEMORY;
    muta_status status = transfer_map(&transfer);
    if (status == MUTA_OK)
        status = transfer_lines(&transfer);
    free(transfer.statements);
    MUTA_TRY(status);
    to->length = muta_fraction_max(to->length, ends);
    if (tones)
        *tones = (muta_tones){work->tones.at + first, work->tones.count - first};
    return MUTA_OK;
}

muta_status muta_passage_append(muta_passage *to, const muta_passage *from, muta_fraction onset,
                                muta_tones *tones)
{
    return muta_passage_append_part(to, from, MUTA_ZERO, from->length, onset, tones);
}

static size_t piece_at(const muta_warp *pieces, size_t count, muta_fraction time)
{
    size_t low = 0;
    size_t high = count;

    while (high - low > 1) {
        const size_t middle = low + (high - low) / 2;
        if (muta_fraction_compare(pieces[middle].from, time) <= 0)
            low = middle;
        else
            high = middle;
    }
    return low;
}

muta_fraction muta_warp_place(const muta_warp *pieces, size_t count, muta_fraction time)
{
    if (count == 0)
        return time;
    const muta_warp *const piece = &pieces[piece_at(pieces, count, time)];
    return muta_fraction_add(
        piece->at, muta_fraction_multiply(muta_fraction_subtract(time, piece->from), piece->scale));
}

/* The map of a piece, stretched; which statements its events become. */
static muta_status warp_map(muta_passage *to, const muta_passage *from, const muta_warp *piece,
                            muta_fraction at, uint32_t *statements)
{
    const size_t first = to->map.count;
    const struct transfer transfer = {to, from, piece->from, piece->to, at, statements};

    MUTA_TRY(transfer_map(&transfer));
    for (size_t i = first; i < to->map.count; i++) {
        muta_statement *const row = &to->map.at[i];
        row->scale = muta_fraction_multiply(row->scale, piece->scale);
        row->at = muta_fraction_add(
            at, muta_fraction_multiply(muta_fraction_subtract(row->at, at), piece->scale));
    }
    return MUTA_OK;
}

/* Everything that stands at a moment goes with it. */
static void warp_tracks(muta_passage *to, const muta_passage *from, const muta_warp *pieces,
                        size_t count)
{
    for (size_t i = 0; i < to->keys.count; i++)
        to->keys.at[i].onset = muta_warp_place(pieces, count, from->keys.at[i].onset);
    for (size_t i = 0; i < to->playing.count; i++) {
        to->playing.at[i].from = muta_warp_place(pieces, count, from->playing.at[i].from);
        if (muta_fraction_is_valid(from->playing.at[i].to))
            to->playing.at[i].to = muta_warp_place(pieces, count, from->playing.at[i].to);
    }
    for (size_t i = 0; i < to->stretches.count; i++) {
        const muta_stretch *const of = &from->stretches.at[i];
        to->stretches.at[i].onset = muta_warp_place(pieces, count, of->onset);
        to->stretches.at[i].length = muta_fraction_subtract(
            muta_warp_place(pieces, count, muta_fraction_add(of->onset, of->length)),
            to->stretches.at[i].onset);
    }
    to->length = muta_warp_place(pieces, count, from->length);
}

static muta_status warp_event(muta_passage *to, const muta_passage *from, size_t index,
                              const muta_warp *pieces, size_t count)
{
    const muta_event *const event = &from->work.events.at[index];
    const muta_fraction onset = muta_warp_place(pieces, count, event->onset);
    const muta_fraction end =
        muta_warp_place(pieces, count, muta_fraction_add(event->onset, event->duration));

    MUTA_TRY(muta_passage_put_event(to, from, index, onset, muta_fraction_subtract(end, onset)));
    const muta_event *const made = &to->work.events.at[to->work.events.count - 1];
    for (uint32_t i = 0; i < event->tone_count; i++) {
        const muta_fraction lasts = from->work.tones.at[event->tone + i].duration;
        to->work.tones.at[made->tone + i].duration = muta_fraction_subtract(
            muta_warp_place(pieces, count, muta_fraction_add(event->onset, lasts)), onset);
    }
    return muta_fraction_is_valid(onset) && muta_fraction_is_valid(end) ? MUTA_OK : MUTA_E_RANGE;
}

muta_status muta_passage_warp(muta_passage *to, const muta_passage *from, const muta_warp *pieces,
                              size_t count)
{
    const size_t rows = from->map.count + 1;
    uint32_t *const statements =
        muta_arena_take_array(&to->arena, rows * (count + 1), sizeof *statements);

    if (!statements)
        return MUTA_E_MEMORY;
    for (size_t i = 0; i < count; i++)
        MUTA_TRY(warp_map(to, from, &pieces[i], pieces[i].at, &statements[i * rows]));
    for (size_t i = 0; i < from->work.lines.count; i++) {
        const muta_line *const line = &from->work.lines.at[i];
        MUTA_TRY(muta_passage_begin_line(to, from, i));
        for (uint32_t j = line->event; j < line->event + line->event_count; j++) {
            const muta_event *const event = &from->work.events.at[j];
            MUTA_TRY(warp_event(to, from, j, pieces, count));
            to->work.events.at[to->work.events.count - 1].written.statement =
                statements[piece_at(pieces, count, event->onset) * rows + event->written.statement];
        }
    }
    warp_tracks(to, from, pieces, count);
    return MUTA_OK;
}

void muta_passage_slow(muta_passage *passage, muta_fraction by, bool scales)
{
    muta_fraction *const of = scales ? &passage->faster : &passage->slower;

    by = muta_fraction_multiply(*of, by);
    if (muta_fraction_is_valid(by))
        *of = by;
}

muta_status muta_passage_scale(muta_passage *passage, muta_fraction by)
{
    muta_weave *const work = &passage->work;

    for (size_t i = 0; i < work->events.count; i++) {
        muta_event *const event = &work->events.at[i];
        event->onset = muta_fraction_multiply(event->onset, by);
        event->duration = muta_fraction_multiply(event->duration, by);
        if (!muta_fraction_is_valid(event->onset) || !muta_fraction_is_valid(event->duration))
            return MUTA_E_RANGE;
    }
    for (size_t i = 0; i < work->tones.count; i++)
        work->tones.at[i].duration = muta_fraction_multiply(work->tones.at[i].duration, by);
    for (size_t i = 0; i < passage->map.count; i++) {
        passage->map.at[i].at = muta_fraction_multiply(passage->map.at[i].at, by);
        passage->map.at[i].scale = muta_fraction_multiply(passage->map.at[i].scale, by);
    }
    passage->length = muta_fraction_multiply(passage->length, by);
    return muta_fraction_is_valid(passage->length) ? MUTA_OK : MUTA_E_RANGE;
}
