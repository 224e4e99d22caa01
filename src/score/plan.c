/* plan.c: which bars there will be, and what sounds in them. */
#include "score/plan.h"
#include "mutanza/limits.h"
#include <stdlib.h>
#include <string.h>

/* ---- the bars ---- */

muta_fraction muta_stretch_growth(const muta_score *score, const muta_stretch *stretch)
{
    const muta_bar *const last = &score->bars[score->bar_count - 1];
    const muta_fraction end =
        stretch->to.bar < score->bar_count
            ? muta_fraction_add(score->bars[stretch->to.bar].start, stretch->to.onset)
            : muta_fraction_add(last->start, last->length);
    const muta_fraction was = muta_fraction_subtract(
        end, muta_fraction_add(score->bars[stretch->from.bar].start, stretch->from.onset));

    return muta_fraction_subtract(stretch->length, was);
}

/* The length of a bar that is put in: by the metre in force, or as long as the bar before it. */
static muta_fraction new_length(const muta_score *score, uint32_t bar)
{
    const muta_bar *const like = &score->bars[bar];

    return muta_fraction_is_valid(like->metre.length) ? like->metre.length : like->length;
}

int64_t muta_bars_for(const muta_score *score, uint32_t bar, muta_fraction time)
{
    const muta_fraction count = muta_fraction_divide(time, new_length(score, bar));

    if (!muta_fraction_is_valid(count))
        return INT64_MAX;
    return count.top / count.bottom + (count.top % count.bottom != 0);
}

/* Why bars cannot be put in behind a stretch; NULL when they can. */
static const char *why_not(const muta_score *score, const muta_stretch *stretch)
{
    const uint32_t bar = stretch->to.bar;

    if (score->own_grids)
        return "bars cannot be put in where the parts have bar lines of their own";
    /* What stands behind the cut would not fit into a bar of another length. */
    if (stretch->to.onset.top != 0 &&
        muta_fraction_compare(score->bars[bar].length, new_length(score, bar)) != 0)
        return "a passage that grows cannot end inside a bar that is shorter or longer than its "
               "metre; let where= end with a bar";
    return NULL;
}

static muta_status grow(const muta_plan *plan, const muta_stretch *stretch, muta_fraction by,
                        uint32_t *added, muta_diags *diags)
{
    const muta_score *const score = plan->score;
    const uint32_t last = stretch->to.onset.top == 0 ? stretch->to.bar - 1 : stretch->to.bar;
    const muta_moment at = {last, MUTA_ALL_STAVES, MUTA_ZERO};
    const int64_t count = muta_bars_for(score, last, by);
    const char *const why = why_not(score, stretch);

    if (why) {
        muta_diag_add(diags, MUTA_ERROR, muta_score_place(score, NULL, at), "%s", why);
        return MUTA_E_DATA;
    }
    if (count > MUTA_LIMIT_NEW_BARS) {
        muta_diag_add(diags, MUTA_ERROR, muta_score_place(score, NULL, at),
                      "more than %d new bars; ask for less", MUTA_LIMIT_NEW_BARS);
        return MUTA_E_DATA;
    }
    if (added[last] < (uint32_t)count) /* passages side by side share the new bars */
        added[last] = (uint32_t)count;
    return MUTA_OK;
}

/* How many bars are put in behind each bar. */
static muta_status plan_changes(const muta_plan *plan, const muta_passage *passage, uint32_t *added,
                                muta_diags *diags)
{
    for (size_t i = 0; i < passage->stretches.count && !passage->is_regridded; i++) {
        const muta_stretch *const stretch = &passage->stretches.at[i];
        const muta_fraction by = muta_stretch_growth(plan->score, stretch);
        if (by.top > 0)
            MUTA_TRY(grow(plan, stretch, by, added, diags));
    }
    return MUTA_OK;
}

static muta_status add_bar(muta_plan *plan, uint32_t old, uint32_t like, muta_fraction length,
                           muta_fraction *start)
{
    muta_plan_bar *const bar = MUTA_PUSH(&plan->arena, &plan->bars);

    if (!bar)
        return MUTA_E_MEMORY;
    *bar = (muta_plan_bar){.old = old, .like = like, .start = *start, .length = length};
    *start = muta_fraction_add(*start, length);
    return MUTA_OK;
}

/* The passage that begins with a bar and has bars of its own; NULL when none does. */
static const muta_passage *regridded(const muta_plan *plan, uint32_t bar)
{
    for (size_t i = 0; i < plan->count; i++)
        if (plan->given[i]->is_regridded && plan->given[i]->from.bar == bar)
            return plan->given[i];
    return NULL;
}

static bool is_same_metre(const muta_metre *a, const muta_metre *b)
{
    return a->beat_type == b->beat_type && muta_fraction_compare(a->length, b->length) == 0;
}

/* A bar of a passage that has bars of its own. */
static muta_status add_grid_bar(muta_plan *plan, const muta_passage *passage,
                                const muta_grid_bar *of, muta_fraction *start)
{
    const muta_score *const score = plan->score;
    const bool is_new = of->old == MUTA_NO_BAR;

    MUTA_TRY(add_bar(plan, of->old, is_new ? of->like : of->old, of->length, start));
    muta_plan_bar *const bar = &plan->bars.at[plan->bars.count - 1];
    bar->lead = of->lead;
    if (passage->is_remetred)
        bar->metre = &passage->metre;
    else if (!is_same_metre(&score->bars[bar->like].metre, &score->bars[of->like].metre))
        bar->metre = &score->bars[of->like].metre;
    bar->is_resized =
        bar->metre || is_new || muta_fraction_compare(of->length, score->bars[of->old].length) != 0;
    if (is_new)
        plan->bars_added++;
    else
        plan->bar_of[of->old] = (uint32_t)plan->bars.count - 1;
    return MUTA_OK;
}

static muta_status lay_grid(muta_plan *plan, const muta_passage *passage, muta_fraction *start)
{
    for (uint32_t bar = passage->from.bar; bar < passage->to.bar; bar++)
        plan->bar_of[bar] = MUTA_NO_BAR;
    for (size_t i = 0; i < passage->grid.count; i++)
        MUTA_TRY(add_grid_bar(plan, passage, &passage->grid.at[i], start));
    for (uint32_t bar = passage->from.bar; bar < passage->to.bar; bar++)
        plan->bars_removed += plan->bar_of[bar] == MUTA_NO_BAR;
    return MUTA_OK;
}

/* Whether a bar that is not full, where the one like it was, ends at an edge inside the passage. */
static bool is_cut_bar(const muta_plan *plan, const muta_passage *passage, size_t nth)
{
    const muta_grid_bar *const bar = &passage->grid.at[nth];
    const muta_bar *const like = &plan->score->bars[bar->like];
    const muta_fraction full = passage->is_remetred ? passage->metre.length : like->metre.length;

    return nth > 0 && nth + 1 < passage->grid.count && muta_fraction_is_valid(full) &&
           muta_fraction_compare(like->length, like->metre.length) >= 0 &&
           muta_fraction_compare(muta_fraction_add(bar->lead, bar->length), full) < 0;
}

/* Says where a repeat, an ending or a jump comes inside what would be one bar. */
static void tell_cut_bars(const muta_plan *plan, const muta_passage *passage, muta_diags *diags)
{
    for (size_t i = 0; i < passage->grid.count; i++)
        if (is_cut_bar(plan, passage, i))
            muta_diag_add(diags, MUTA_WARNING,
                          muta_score_place(
                              plan->score, NULL,
                              (muta_moment){passage->grid.at[i].like, MUTA_ALL_STAVES, MUTA_ZERO}),
                          "a repeat, an ending or a jump falls inside a bar, which is cut there");
}

static muta_status lay_bars(muta_plan *plan, const uint32_t *added, muta_diags *diags)
{
    const muta_score *const score = plan->score;
    muta_fraction start = MUTA_ZERO;

    for (uint32_t bar = 0; bar < score->bar_count; bar++) {
        const muta_passage *const passage = regridded(plan, bar);
        if (passage) {
            MUTA_TRY(lay_grid(plan, passage, &start));
            tell_cut_bars(plan, passage, diags);
            bar = passage->to.bar - 1;
            continue;
        }
        plan->bar_of[bar] = (uint32_t)plan->bars.count;
        MUTA_TRY(add_bar(plan, bar, bar, score->bars[bar].length, &start));
        for (uint32_t i = 0; i < added[bar]; i++, plan->bars_added++)
            MUTA_TRY(add_bar(plan, MUTA_NO_BAR, bar, new_length(score, bar), &start));
    }
    return MUTA_OK;
}

static muta_status plan_bars(muta_plan *plan, const muta_passage *const *passages, size_t count,
                             muta_diags *diags)
{
    const size_t bars = plan->score->bar_count;
    uint32_t *const added = muta_arena_take_array(&plan->arena, bars, sizeof *added);

    plan->bar_of = muta_arena_take_array(&plan->arena, bars, sizeof(uint32_t));
    if (!added || !plan->bar_of || !MUTA_RESERVE(&plan->arena, &plan->bars, bars))
        return MUTA_E_MEMORY;
    for (size_t i = 0; i < count; i++)
        MUTA_TRY(plan_changes(plan, passages[i], added, diags));
    return lay_bars(plan, added, diags);
}

muta_fraction muta_plan_bar_start(const muta_plan *plan, uint32_t part, uint32_t bar)
{
    const muta_plan_bar *const of = &plan->bars.at[bar];

    /* With grids of their own no bars come or go. */
    return plan->score->own_grids
               ? muta_part_bar_start(plan->score, &plan->score->parts[part], of->old)
               : of->start;
}

/* ---- moments ---- */

static const muta_stretch *stretch_at(const muta_passage *passage, muta_fraction time, bool is_end)
{
    size_t nth = 0;

    while (nth + 1 < passage->stretches.count) {
        const int order = muta_fraction_compare(passage->stretches.at[nth + 1].onset, time);
        if (order > 0 || (order == 0 && is_end))
            break;
        nth++;
    }
    return &passage->stretches.at[nth];
}

void muta_plan_place(const muta_plan *plan, const muta_passage *passage, uint32_t part,
                     muta_fraction time, bool is_end, uint32_t *bar, muta_fraction *onset)
{
    const muta_stretch *const stretch = stretch_at(passage, time, is_end);
    uint32_t low = plan->bar_of[stretch->from.bar];
    uint32_t high = (uint32_t)plan->bars.count;
    const muta_fraction at = muta_fraction_add(
        muta_fraction_add(muta_plan_bar_start(plan, part, low), stretch->from.onset),
        muta_fraction_subtract(time, stretch->onset));

    while (high - low > 1) {
        const uint32_t middle = low + (high - low) / 2;
        const int order = muta_fraction_compare(muta_plan_bar_start(plan, part, middle), at);
        if (order < 0 || (order == 0 && !is_end))
            low = middle;
        else
            high = middle;
    }
    *bar = low;
    *onset = muta_fraction_subtract(at, muta_plan_bar_start(plan, part, low));
}

/* ---- what sounds ---- */

/* The note's time as it was lifted: cut at the edges of its passage. */
static void lifted_time(const muta_passage *passage, const muta_note *note, muta_fraction *onset,
                        muta_fraction *end)
{
    *onset = note->onset;
    *end = muta_fraction_add(note->onset, note->duration);
    if (note->bar == passage->from.bar)
        *onset = muta_fraction_max(*onset, passage->from.onset);
    if (note->bar == passage->to.bar && muta_fraction_compare(*end, passage->to.onset) > 0)
        *end = passage->to.onset;
}

/* Whether a tone still lasts as long as its written notes. */
static bool keeps_length(const muta_passage *passage, const muta_part *part, const muta_tone *tone)
{
    muta_fraction total = MUTA_ZERO;
    uint32_t note = tone->source;

    for (uint32_t i = 0; i < tone->source_count && note != MUTA_NO_NOTE; i++) {
        muta_fraction onset;
        muta_fraction end;
        lifted_time(passage, &part->notes.at[note], &onset, &end);
        total = muta_fraction_add(total, muta_fraction_subtract(end, onset));
        note = part->notes.at[note].tied_to;
    }
    return muta_fraction_compare(total, tone->duration) == 0;
}

/* What stood behind the passage's end, inside a bar, moved away from it; NULL when nothing did. */
static const muta_passage *tail_of(const muta_plan *plan, const muta_passage *passage)
{
    for (size_t i = 0; i < plan->count; i++)
        if (plan->given[i]->is_tail && !passage->is_tail &&
            muta_moment_compare(plan->given[i]->from, passage->to) == 0)
            return plan->given[i];
    return NULL;
}

/* A note of which the passage holds only a part. */
static bool is_cut(const muta_passage *passage, const muta_note *note)
{
    muta_fraction onset;
    muta_fraction end;

    lifted_time(passage, note, &onset, &end);
    return muta_fraction_compare(onset, note->onset) != 0 ||
           muta_fraction_compare(end, muta_fraction_add(note->onset, note->duration)) != 0;
}

static bool is_first_statement(const muta_passage *passage, const muta_event *event)
{
    const muta_statement *const of = &passage->map.at[event->statement];

    for (size_t i = 0; i < event->statement; i++)
        if (muta_fraction_compare(passage->map.at[i].from, of->to) < 0 &&
            muta_fraction_compare(of->from, passage->map.at[i].to) < 0)
            return false;
    return true;
}

/* Whether the words under an event are those that its first note has. */
static bool keeps_words(const muta_passage *passage, const muta_part *part, const muta_event *event)
{
    const muta_note *const head = &part->notes.at[event->source];
    muta_fraction onset;
    muta_fraction end;

    lifted_time(passage, head, &onset, &end);
    const bool has_words =
        (head->flags & MUTA_NOTE_LYRIC) && muta_fraction_compare(onset, head->onset) == 0;
    return event->joined == MUTA_NO_SOURCE &&
           event->syllable == (has_words ? event->source : MUTA_NO_SOURCE);
}

/* Where an event begins: a bar of the plan, and the moment in it. */
struct place {
    uint32_t bar;
    muta_fraction onset;
};

static struct place place_of(const muta_plan *plan, const muta_passage *passage, uint32_t part,
                             const muta_event *event)
{
    struct place place;

    muta_plan_place(plan, passage, part, event->onset, event->is_grace && event->is_after,
                    &place.bar, &place.onset);
    return place;
}

/* Whether an event stands where it stood, as long, so that its notes stay but for their pitch. */
static bool keeps_place(const muta_plan *plan, const muta_passage *passage, uint32_t part_index,
                        const muta_event *event, struct place place)
{
    const muta_part *const part = &plan->score->parts[part_index];
    const muta_note *const head =
        event->source == MUTA_NO_SOURCE ? NULL : &part->notes.at[event->source];
    muta_fraction onset;
    muta_fraction end;

    if (event->source == MUTA_NO_SOURCE)
        return false;
    lifted_time(passage, head, &onset, &end);
    if (passage->is_forced || passage->is_remetred || plan->bars.at[place.bar].old != head->bar ||
        muta_fraction_compare(place.onset, onset) != 0 || !is_first_statement(passage, event) ||
        !keeps_words(passage, part, event))
        return false;
    for (uint32_t i = 0; i < event->tone_count; i++) {
        const muta_tone *const tone = &passage->work.tones.at[event->tone + i];
        const muta_note *const note = &part->notes.at[tone->source];
        if (note->bar != head->bar || note->voice != head->voice ||
            muta_fraction_compare(note->onset, head->onset) != 0 ||
            !keeps_length(passage, part, tone) ||
            (is_cut(passage, note) && (tone->is_pitch_changed || tail_of(plan, passage))))
            return false;
    }
    /* With an odd number of turns its marks look the other way. */
    return true;
}

static void set_fate(const muta_part *part, const muta_tone *tone, uint8_t *fates, muta_fate fate,
                     muta_fate others)
{
    uint32_t note = tone->source;

    for (uint32_t i = 0; i < tone->source_count && note != MUTA_NO_NOTE; i++) {
        if (fates[note] != MUTA_KEPT)
            fates[note] = (uint8_t)(i == 0 ? fate : others);
        note = part->notes.at[note].tied_to;
    }
}

static muta_sounding *push(muta_plan *plan, uint32_t part, uint32_t voice)
{
    muta_plan_part *const of = &plan->parts[part];
    muta_sounding *const sounding = MUTA_PUSH(&plan->arena, &of->soundings);

    if (sounding) {
        sounding->voice = voice;
        sounding->note = MUTA_NO_NOTE;
        sounding->order = (uint32_t)of->soundings.count;
    }
    return sounding;
}

/* Divides what an event sounds at the bar lines. */
static muta_status sound_event(muta_plan *plan, const muta_passage *passage, const muta_line *line,
                               uint32_t index, struct place place)
{
    const muta_event *const event = &passage->work.events.at[index];
    muta_fraction left = event->duration;
    muta_fraction onset = place.onset;
    muta_fraction began = place.onset;
    uint32_t bar = place.bar;
    bool begins = true;

    do {
        muta_sounding *const sounding = push(plan, line->part, line->voice);
        if (!sounding)
            return MUTA_E_MEMORY;
        const muta_fraction room = muta_fraction_subtract(plan->bars.at[bar].length, onset);
        const bool fits = muta_fraction_compare(left, room) <= 0 || bar + 1 == plan->bars.count;
        sounding->bar = bar;
        sounding->event = index;
        sounding->passage = passage;
        sounding->from = onset;
        sounding->to = muta_fraction_add(onset, fits ? left : room);
        sounding->onset = began;
        sounding->rank = event->is_grace ? !event->is_after : 2;
        sounding->begins = begins;
        sounding->ends = fits;
        left = fits ? MUTA_ZERO : muta_fraction_subtract(left, room);
        began = muta_fraction_subtract(began, plan->bars.at[bar].length);
        begins = false;
        onset = MUTA_ZERO;
        bar++;
    } while (left.top > 0);
    return MUTA_OK;
}

/* The voice-bars that are written anew. */
static bool *take_marks(muta_plan *plan, const muta_part *part)
{
    return muta_arena_take_array(&plan->arena, plan->bars.count * part->voices.count + 1,
                                 sizeof(bool));
}

static muta_status take_fates(muta_plan *plan, uint32_t part)
{
    muta_plan_part *const of = &plan->parts[part];

    if (!of->fates)
        of->fates = muta_arena_take(&plan->arena, plan->score->parts[part].notes.count + 1);
    return of->fates ? MUTA_OK : MUTA_E_MEMORY;
}

/* Tones that no statement took up. */
static void count_removed(muta_plan *plan, const muta_weave *first)
{
    for (size_t i = 0; i < first->tones.count; i++) {
        const uint32_t part = first->lines.at[first->tones.at[i].line].part;
        plan->tones_removed +=
            plan->parts[part].fates[first->tones.at[i].source] == (uint8_t)MUTA_GONE;
    }
}

/* Marks the notes whose words an event bears. */
static void mark_words(const muta_part *part, const muta_event *event, bool *borne)
{
    if (event->syllable == MUTA_NO_SOURCE)
        return;
    borne[event->syllable] = true;
    for (uint32_t i = event->syllable; event->joined != MUTA_NO_SOURCE && i <= event->joined; i++)
        borne[i] = borne[i] || part->notes.at[i].voice == part->notes.at[event->syllable].voice;
}

/* Syllables of a part that no event bears any more are told. */
static muta_status tell_words(muta_plan *plan, const muta_passage *passage, uint32_t index,
                              muta_diags *diags)
{
    const muta_part *const part = &plan->score->parts[index];
    bool *const borne = muta_arena_take(&plan->arena, part->notes.count + 1);
    uint32_t first = MUTA_NO_SOURCE;
    size_t lost = 0;

    if (!borne)
        return MUTA_E_MEMORY;
    for (size_t i = 0; i < passage->work.lines.count; i++) {
        const muta_line *const line = &passage->work.lines.at[i];
        for (uint32_t j = 0; j < line->event_count && line->part == index; j++)
            mark_words(part, &passage->work.events.at[line->event + j], borne);
    }
    for (size_t i = 0; i < passage->first->lines.count; i++) {
        const muta_line *const line = &passage->first->lines.at[i];
        for (uint32_t j = 0; j < line->event_count && line->part == index; j++) {
            const uint32_t words = passage->first->events.at[line->event + j].syllable;
            if (words == MUTA_NO_SOURCE || borne[words])
                continue;
            first = words < first ? words : first;
            lost++;
        }
    }
    if (lost > 0) {
        const muta_note *const note = &part->notes.at[first];
        muta_diag_add(
            diags, MUTA_WARNING,
            muta_score_place(plan->score, part, (muta_moment){note->bar, note->staff, note->onset}),
            "%zu syllable%s went with the notes that bore %s", lost, lost == 1 ? "" : "s",
            lost == 1 ? "it" : "them");
    }
    return MUTA_OK;
}

/* Room for what a passage sounds in each part, so that it need not move as it grows. */
static muta_status expect_soundings(muta_plan *plan, const muta_weave *work)
{
    for (uint32_t part = 0; part < plan->score->part_count; part++) {
        size_t expected = plan->bars.count;
        for (size_t i = 0; i < work->lines.count; i++)
            expected += work->lines.at[i].part == part ? work->lines.at[i].event_count : 0;
        if (!MUTA_RESERVE(&plan->arena, &plan->parts[part].soundings, expected))
            return MUTA_E_MEMORY;
    }
    return MUTA_OK;
}

/* First what the passages were, then what they are. */
static muta_status plan_fates(muta_plan *plan, const muta_passage *passage)
{
    const muta_weave *const first = passage->first;
    const muta_weave *const work = &passage->work;
    muta_plan_passage *const of = MUTA_PUSH(&plan->arena, &plan->passages);

    if (!of)
        return MUTA_E_MEMORY;
    of->passage = passage;
    of->keeps = muta_arena_take(&plan->arena, work->events.count + 1);
    if (!of->keeps)
        return MUTA_E_MEMORY;
    MUTA_TRY(expect_soundings(plan, work));
    for (size_t i = 0; i < first->tones.count; i++) {
        const uint32_t part = first->lines.at[first->tones.at[i].line].part;
        MUTA_TRY(take_fates(plan, part));
        set_fate(&plan->score->parts[part], &first->tones.at[i], plan->parts[part].fates, MUTA_GONE,
                 MUTA_GONE);
    }
    for (size_t i = 0; i < work->lines.count; i++) {
        const muta_line *const line = &work->lines.at[i];
        const muta_part *const part = &plan->score->parts[line->part];
        MUTA_TRY(take_fates(plan, line->part));
        for (uint32_t j = line->event; j < line->event + line->event_count; j++) {
            const muta_event *const event = &work->events.at[j];
            const struct place place = place_of(plan, passage, line->part, event);
            const bool kept = keeps_place(plan, passage, line->part, event, place);
            of->keeps[j] = kept;
            for (uint32_t k = 0; k < event->tone_count; k++)
                set_fate(part, &work->tones.at[event->tone + k], plan->parts[line->part].fates,
                         kept ? MUTA_KEPT : MUTA_MOVED, kept ? MUTA_KEPT : MUTA_GONE);
            for (uint32_t k = 0; k < event->tone_count; k++)
                plan->tones_changed += (!kept && !passage->is_tail) ||
                                       work->tones.at[event->tone + k].is_pitch_changed;
            if (kept)
                continue;
            MUTA_TRY(sound_event(plan, passage, line, j, place));
        }
    }
    count_removed(plan, first);
    return MUTA_OK;
}

/* What is left of a note in front of a passage that took its end, or behind one. */
static muta_status sound_rest_of(muta_plan *plan, const muta_passage *passage, uint32_t part,
                                 uint32_t index)
{
    const muta_note *const note = &plan->score->parts[part].notes.at[index];
    const muta_fraction end = muta_fraction_add(note->onset, note->duration);
    muta_fraction from;
    muta_fraction to;

    lifted_time(passage, note, &from, &to);
    for (int side = 0; side < 2; side++) {
        const muta_fraction begins = side == 0 ? note->onset : to;
        const muta_fraction ends = side == 0 ? from : end;
        if (muta_fraction_compare(begins, ends) >= 0 || (side == 1 && tail_of(plan, passage)))
            continue;
        muta_sounding *const sounding = push(plan, part, note->voice);
        if (!sounding)
            return MUTA_E_MEMORY;
        sounding->bar = plan->bar_of[note->bar];
        sounding->note = index;
        sounding->from = begins;
        sounding->to = ends;
        sounding->rank = 2;
        sounding->begins = side == 0;
    }
    return MUTA_OK;
}

/* A note that stays, in a voice-bar that is written anew. */
static muta_status sound_kept(muta_plan *plan, uint32_t part, uint32_t index)
{
    const muta_note *const note = &plan->score->parts[part].notes.at[index];
    muta_sounding *const sounding = push(plan, part, note->voice);

    if (!sounding)
        return MUTA_E_MEMORY;
    sounding->bar = plan->bar_of[note->bar];
    sounding->note = index;
    sounding->from = note->onset;
    sounding->to = muta_fraction_add(note->onset, note->duration);
    sounding->rank =
        note->flags & MUTA_NOTE_GRACE
            ? note->onset.top == 0 ||
                  muta_fraction_compare(note->onset, plan->score->bars[note->bar].length) < 0
            : 2;
    sounding->begins = true;
    sounding->ends = true;
    return MUTA_OK;
}

static int in_order(const void *a, const void *b)
{
    const muta_sounding *const one = a;
    const muta_sounding *const two = b;

    if (one->bar != two->bar)
        return one->bar < two->bar ? -1 : 1;
    if (one->voice != two->voice)
        return one->voice < two->voice ? -1 : 1;
    if (one->layer != two->layer)
        return one->layer < two->layer ? -1 : 1;
    const int onsets = muta_fraction_compare(one->from, two->from);
    if (onsets != 0)
        return onsets;
    if (one->rank != two->rank)
        return one->rank < two->rank ? -1 : 1;
    return one->order < two->order ? -1 : 1;
}

/* What overlaps in a voice-bar goes into further layers. */
static void part_layers(muta_sounding *soundings, size_t count)
{
    muta_fraction ends[8];
    bool several = false;

    for (size_t i = 0; i < MUTA_LENGTH(ends); i++)
        ends[i] = MUTA_ZERO;
    for (size_t i = 0; i < count; i++) {
        uint8_t layer = 0;
        while (layer + 1u < MUTA_LENGTH(ends) &&
               muta_fraction_compare(soundings[i].from, ends[layer]) < 0)
            layer++;
        soundings[i].layer = layer;
        several = several || layer > 0;
        ends[layer] = muta_fraction_max(ends[layer], soundings[i].to);
    }
    if (several)
        muta_sort(soundings, count, sizeof *soundings, in_order);
}

static const muta_passage *passage_of(const muta_passage *const *passages, size_t count,
                                      const muta_note *note)
{
    const muta_moment at = {note->bar, note->staff, note->onset};

    for (size_t i = 0; i < count; i++)
        if (note->bar >= passages[i]->from.bar && muta_moment_compare(at, passages[i]->to) < 0)
            return passages[i];
    return NULL;
}

/* Which voice-bars are written anew; false when none is. */
static bool mark_bars(const muta_plan *plan, const muta_part *part, const muta_plan_part *of,
                      bool *marks)
{
    bool any = of->soundings.count > 0;

    for (size_t i = 0; i < of->soundings.count; i++)
        marks[of->soundings.at[i].bar * part->voices.count + of->soundings.at[i].voice] = true;
    for (size_t i = 0; i < part->notes.count; i++) {
        const muta_note *const note = &part->notes.at[i];
        const uint32_t bar = plan->bar_of[note->bar];
        /* A bar that is longer or shorter is filled anew in every voice that it has. */
        if (of->fates[i] < MUTA_MOVED && !(bar != MUTA_NO_BAR && plan->bars.at[bar].is_resized))
            continue;
        any = true;
        if (plan->bar_of[note->bar] != MUTA_NO_BAR)
            marks[plan->bar_of[note->bar] * part->voices.count + note->voice] = true;
    }
    return any;
}

/* What is not moved in the marked voice-bars, and what is left of notes that a passage cut. */
static muta_status sound_others(muta_plan *plan, uint32_t index,
                                const muta_passage *const *passages, size_t count,
                                const bool *marks)
{
    const muta_part *const part = &plan->score->parts[index];
    bool head_stays = false;

    for (uint32_t i = 0; i < part->notes.count; i++) {
        const muta_note *const note = &part->notes.at[i];
        const uint32_t bar = plan->bar_of[note->bar];
        const bool is_head = !(note->flags & MUTA_NOTE_CHORD);
        head_stays = head_stays && !is_head;
        if (bar == MUTA_NO_BAR || (note->flags & MUTA_NOTE_REST) ||
            !marks[bar * part->voices.count + note->voice])
            continue;
        if (plan->parts[index].fates[i] < MUTA_MOVED) {
            if (!head_stays)
                MUTA_TRY(sound_kept(plan, index, i));
            head_stays = true;
            continue;
        }
        const muta_passage *const passage = passage_of(passages, count, note);
        if (is_head && passage && is_cut(passage, note))
            MUTA_TRY(sound_rest_of(plan, passage, index, i));
    }
    return MUTA_OK;
}

/* A voice-bar that fell silent is written too. */
static muta_status sound_silence(muta_plan *plan, uint32_t index, const bool *marks)
{
    const size_t voices = plan->score->parts[index].voices.count;

    for (uint32_t bar = 0; bar < plan->bars.count; bar++)
        for (uint32_t voice = 0; voice < voices; voice++) {
            if (!marks[bar * voices + voice])
                continue;
            muta_sounding *const silence = push(plan, index, voice);
            if (!silence)
                return MUTA_E_MEMORY;
            silence->bar = bar;
            silence->event = MUTA_NO_SOURCE;
            silence->rank = 2;
            silence->from = silence->to = MUTA_ZERO;
        }
    return MUTA_OK;
}

/* Completes the voice-bars that are written anew with what stays in them. */
static muta_status plan_part(muta_plan *plan, uint32_t index, const muta_passage *const *passages,
                             size_t count)
{
    const muta_part *const part = &plan->score->parts[index];
    muta_plan_part *const of = &plan->parts[index];
    bool *const marks = take_marks(plan, part);

    if (!marks)
        return MUTA_E_MEMORY;
    if (!mark_bars(plan, part, of, marks)) {
        of->fates = NULL;
        return MUTA_OK;
    }
    MUTA_TRY(sound_others(plan, index, passages, count, marks));
    MUTA_TRY(sound_silence(plan, index, marks));
    muta_sort(of->soundings.at, of->soundings.count, sizeof *of->soundings.at, in_order);
    for (size_t i = 0, next; i < of->soundings.count; i = next) {
        for (next = i; next < of->soundings.count &&
                       of->soundings.at[next].bar == of->soundings.at[i].bar &&
                       of->soundings.at[next].voice == of->soundings.at[i].voice;)
            next++;
        part_layers(&of->soundings.at[i], next - i);
    }
    return MUTA_OK;
}

static bool has_other_bars(const muta_plan *plan)
{
    for (size_t i = 0; i < plan->bars.count; i++)
        if (plan->bars.at[i].is_resized)
            return true;
    return false;
}

static muta_status make(muta_plan *plan, const muta_passage *const *passages, size_t count,
                        muta_diags *diags)
{
    plan->parts = muta_arena_take_array(&plan->arena, plan->score->part_count, sizeof *plan->parts);
    if (!plan->parts)
        return MUTA_E_MEMORY;
    MUTA_TRY(plan_bars(plan, passages, count, diags));
    for (size_t i = 0; i < count; i++) {
        MUTA_TRY(plan_fates(plan, passages[i]));
        for (uint32_t part = 0; part < plan->score->part_count; part++)
            MUTA_TRY(tell_words(plan, passages[i], part, diags));
    }
    /* Other bars are every part's, and their rests are written anew too. */
    for (uint32_t i = 0; i < plan->score->part_count; i++)
        if (has_other_bars(plan))
            MUTA_TRY(take_fates(plan, i));
    for (uint32_t i = 0; i < plan->score->part_count; i++)
        if (plan->parts[i].fates)
            MUTA_TRY(plan_part(plan, i, passages, count));
    return MUTA_OK;
}

muta_status muta_plan_make(muta_plan *plan, muta_score *score, const muta_passage *const *passages,
                           size_t count, muta_diags *diags)
{
    *plan = (muta_plan){.score = score, .given = passages, .count = count};
    const muta_status status = make(plan, passages, count, diags);
    if (status != MUTA_OK)
        muta_plan_clear(plan);
    return status;
}

void muta_plan_clear(muta_plan *plan)
{
    muta_arena_clear(&plan->arena);
}

bool muta_plan_keeps(const muta_plan *plan, const muta_passage *passage, uint32_t event)
{
    for (size_t i = 0; i < plan->passages.count; i++)
        if (plan->passages.at[i].passage == passage)
            return plan->passages.at[i].keeps[event];
    return false;
}

bool muta_plan_is_still(const muta_plan *plan)
{
    for (size_t i = 0; i < plan->score->part_count; i++)
        if (plan->parts[i].fates)
            return false;
    return plan->bars_added == 0 && plan->bars_removed == 0;
}
