/* passage.c: what passes do to a passage. Keys and spans go along by themselves. */
#include "mutanza/limits.h"
#include "score/region.h"
#include "score/texture.h"
#include "theory/recast.h"
#include <stdlib.h>
#include <string.h>

/* Copies a track of `like` into the fresh passage `made`. */
#define COPY(made, like, track)                                                                    \
    (MUTA_RESERVE(&(made)->arena, &(made)->track, (like)->track.count + 1) &&                      \
     ((like)->track.count == 0 || memcpy((made)->track.at, (like)->track.at,                       \
                                         (like)->track.count * sizeof *(like)->track.at)) &&       \
     ((made)->track.count = (like)->track.count, true))

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

bool muta_passage_is_downbeat(const muta_passage *passage, muta_fraction time)
{
    muta_beat beat;

    muta_passage_beat_at(passage, time, &beat);
    return muta_fraction_compare(beat.bar, time) == 0;
}

bool muta_passage_is_in(const muta_passage *passage, size_t event, const muta_region *region)
{
    const muta_event *const of = &passage->work.events.at[event];
    const uint32_t part = passage->work.lines.at[passage->work.tones.at[of->tone].line].part;

    return of->source != MUTA_NO_SOURCE &&
           muta_region_holds(region, part, &passage->score->parts[part].notes.at[of->source]);
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
    copy->statement = transfer->statements[event->statement];
    statement = &transfer->to->map.at[copy->statement];
    copy->onset =
        muta_fraction_add(muta_fraction_subtract(event->onset, transfer->start), transfer->onset);
    end = muta_fraction_subtract(transfer->end, event->onset);
    if (muta_fraction_compare(copy->duration, end) > 0)
        copy->duration = end;
    if (!muta_fraction_is_valid(copy->onset) || !muta_fraction_is_valid(copy->duration))
        return MUTA_E_RANGE;
    const bool again = is_stated(transfer->to, copy->statement, statement);
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
            to->work.events.at[to->work.events.count - 1].statement =
                statements[piece_at(pieces, count, event->onset) * rows + event->statement];
        }
    }
    warp_tracks(to, from, pieces, count);
    return MUTA_OK;
}

muta_fraction muta_passage_place(const muta_passage *passage, muta_fraction time)
{
    for (size_t i = 0; i < passage->map.count; i++)
        if (muta_fraction_compare(passage->map.at[i].from, time) <= 0 &&
            muta_fraction_compare(time, passage->map.at[i].to) < 0)
            return muta_statement_place(&passage->map.at[i], time);
    return passage->length;
}

muta_fraction muta_statement_place(const muta_statement *statement, muta_fraction time)
{
    const muta_fraction away = statement->is_mirrored
                                   ? muta_fraction_subtract(statement->to, time)
                                   : muta_fraction_subtract(time, statement->from);

    return muta_fraction_add(statement->at, muta_fraction_multiply(away, statement->scale));
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
        events[i].is_mirrored = !events[i].is_mirrored;
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
        if (events[i - 1].syllable != MUTA_NO_SOURCE) {
            uint32_t *const word = MUTA_PUSH(&passage->arena, &words);
            if (!word)
                return MUTA_E_MEMORY;
            *word = events[i - 1].syllable;
        }
    /* What came before the first syllable is last now. */
    for (uint32_t i = line->event_count; i > 0 && events[i - 1].syllable == MUTA_NO_SOURCE; i--)
        events[i - 1].is_wordless = true;
    for (uint32_t i = 0; i < line->event_count && words.count > 0; i++) {
        const bool ends = events[i].syllable != MUTA_NO_SOURCE;
        if (events[i].is_wordless || (events[i].is_grace && !ends))
            continue;
        events[i].syllable = begins && next < words.count ? words.at[next++] : MUTA_NO_SOURCE;
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

/* The pitch that the tone's first written note has in the score, as it sounds. */
static muta_pitch written_sound(const muta_passage *passage, const muta_tone *tone)
{
    const muta_part *const part = &passage->score->parts[passage->work.lines.at[tone->line].part];
    const muta_note *const note = &part->notes.at[tone->source];
    const muta_moment at = {note->bar, note->staff, note->onset};

    return muta_pitch_add(note->pitch, muta_part_transposition_at(part, at));
}

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

static int32_t fifths_at(const muta_passage *passage, const muta_tone *tone)
{
    return muta_passage_fifths_at(passage, tone, passage->work.events.at[tone->event].onset);
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

muta_status muta_passage_play(muta_passage *passage, uint32_t part, const muta_technique *technique,
                              muta_fraction from, muta_fraction to)
{
    muta_playing *const playing = MUTA_PUSH(&passage->arena, &passage->playing);

    if (!playing)
        return MUTA_E_MEMORY;
    *playing = (muta_playing){part, from, to, *technique};
    return MUTA_OK;
}

void muta_passage_set_pitch(muta_passage *passage, muta_tone *tone, muta_pitch pitch)
{
    if (tone->is_fixed)
        return;
    tone->pitch = pitch;
    tone->is_pitch_changed = tone->source != MUTA_NO_SOURCE &&
                             !muta_pitch_is_equal(tone->pitch, written_sound(passage, tone));
}

void muta_passage_reflect(muta_passage *passage, muta_tone *tone, muta_pitch axis, muta_kind kind)
{
    enum {
        FARTHEST = 8 /* fifths from the middle of the key: in C major G flat and A sharp */
    };
    const int32_t fifths = fifths_at(passage, tone);
    const int32_t away =
        tone->pitch.alter - muta_key_sharps(fifths, muta_pitch_step(tone->pitch)) * MUTA_SEMITONE;
    muta_pitch pitch = muta_pitch_add(axis, muta_pitch_between(tone->pitch, axis));

    if (kind == MUTA_TONAL)
        pitch.alter = muta_key_sharps(fifths, muta_pitch_step(pitch)) * MUTA_SEMITONE - away;
    else if (muta_pitch_distance(pitch, fifths) > FARTHEST)
        pitch = muta_pitch_of_sound(muta_pitch_sound(pitch), fifths);
    muta_passage_set_pitch(passage, tone, pitch);
}

int32_t muta_passage_fifths(const muta_passage *passage, const muta_tone *tone)
{
    return fifths_at(passage, tone);
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
    muta_passage_set_pitch(
        passage, tone,
        kind == MUTA_TONAL
            ? moved_in_key(tone->pitch, (int32_t)steps, fifths_at(passage, tone))
            : muta_pitch_add(tone->pitch, (muta_interval){(int32_t)steps, (int32_t)size}));
    return MUTA_OK;
}

/* Whether signatures go along, as a person or what the passage covers says. */
static muta_status check_keys(const muta_passage *passage, muta_keys keys, bool *go,
                              muta_diags *diags)
{
    *go = keys == MUTA_KEYS_MOVE || (keys == MUTA_KEYS_AUTO && passage->is_everything);
    if (*go && !passage->is_whole_bars) {
        muta_diag_add(diags, MUTA_ERROR, MUTA_NOWHERE,
                      "keys=move needs a passage of whole bars, where a signature can change");
        return MUTA_E_DATA;
    }
    if (*go && !passage->is_whole_parts) {
        muta_diag_add(diags, MUTA_ERROR, MUTA_NOWHERE,
                      "keys=move needs whole parts: a signature speaks for all of a part's voices");
        return MUTA_E_DATA;
    }
    return MUTA_OK;
}

/* A copy of the chords, to be changed; their times stay what they are. */
static muta_status own_chords(muta_passage *passage, muta_passage_chord **chords)
{
    const bool placed = passage->has_own_chords;

    *chords = muta_arena_take_array(&passage->arena, passage->chord_count + 1, sizeof **chords);
    if (!*chords)
        return MUTA_E_MEMORY;
    for (size_t i = 0; i < passage->chord_count; i++)
        (*chords)[i] = passage->chords[i];
    passage->chords = *chords;
    passage->has_own_chords = placed;
    passage->keeps_chords = true;
    return MUTA_OK;
}

/* Chords that were heard go with the keys, as symbols do. */
static muta_status move_chords(muta_passage *passage, int32_t fifths)
{
    muta_passage_chord *chords;

    if (passage->chord_count == 0)
        return MUTA_OK;
    MUTA_TRY(own_chords(passage, &chords));
    for (size_t i = 0; i < passage->chord_count; i++) {
        chords[i].value.root += fifths;
        chords[i].tonic += fifths;
    }
    return MUTA_OK;
}

/* The same into another mode. */
static muta_status recast_chords(muta_passage *passage, const muta_scale *scale)
{
    muta_recast recast = {.to = *scale};
    muta_passage_chord *chords;

    if (passage->chord_count == 0)
        return MUTA_OK;
    MUTA_TRY(own_chords(passage, &chords));
    for (size_t i = 0; i < passage->chord_count; i++) {
        const muta_chord_row *const row = muta_chord_row_of(chords[i].value.kind);
        recast.tonic = chords[i].tonic;
        muta_recast_for(&recast, chords[i].value.root);
        if (!muta_scale_find(chords[i].is_minor ? "natural-minor" : "major", &recast.from))
            return MUTA_E_FAULT;
        const muta_chord_row *const now = muta_recast_kind(&recast, chords[i].value.root, row);
        chords[i].value.root = muta_recast_class(&recast, chords[i].value.root);
        if (now)
            (void)muta_chord_find(now->name, &chords[i].value.kind);
        chords[i].is_minor = scale->mode == MUTA_MINOR;
    }
    return MUTA_OK;
}

muta_status muta_passage_move_keys(muta_passage *passage, muta_interval by, muta_keys keys,
                                   muta_diags *diags)
{
    bool go;

    MUTA_TRY(check_keys(passage, keys, &go, diags));
    if (!go)
        return MUTA_OK;
    for (size_t i = 0; i < passage->keys.count; i++)
        passage->keys.at[i].key.fifths += muta_interval_fifths(by);
    passage->keys_by.steps += by.steps;
    passage->keys_by.size += by.size;
    passage->keys_moved = true;
    return move_chords(passage, muta_interval_fifths(by));
}

/* By how many fifths the signature of a mode differs from the major's on the same tonic. */
static int32_t fifths_of(muta_mode mode)
{
    const muta_key key = {0, mode};
    const muta_pitch tonic = muta_key_tonic(key);
    const muta_interval above_c = muta_pitch_between((muta_pitch){28, 0}, tonic);

    return -muta_interval_fifths(above_c);
}

muta_status muta_passage_recast_keys(muta_passage *passage, const muta_scale *scale, muta_keys keys,
                                     muta_diags *diags)
{
    bool go;

    MUTA_TRY(check_keys(passage, keys, &go, diags));
    for (size_t i = 0; go && i < passage->keys.count; i++) {
        const muta_passage_key_entry *const entry = &passage->keys.at[i];
        const muta_interval sounds =
            muta_part_transposition_at(&passage->score->parts[entry->part], passage->from);
        const int32_t written = entry->key.fifths + scale->fifths - fifths_of(entry->key.mode) -
                                muta_interval_fifths(sounds);
        if (written > MUTA_LIMIT_FIFTHS || written < -MUTA_LIMIT_FIFTHS) {
            muta_diag_add(diags, MUTA_WARNING, MUTA_NOWHERE,
                          "the new signature would have more than seven signs; the old one stays");
            return MUTA_OK;
        }
    }
    for (size_t i = 0; go && i < passage->keys.count; i++) {
        muta_passage_key_entry *const entry = &passage->keys.at[i];
        const int32_t by = scale->fifths - fifths_of(entry->key.mode);
        entry->recast += by;
        entry->recast_to = scale->mode;
        entry->key.fifths += by;
        entry->key.mode = scale->mode;
    }
    passage->keys_recast = passage->keys_recast || go;
    passage->scale = *scale;
    return go ? recast_chords(passage, scale) : MUTA_OK;
}
