/*
 * tune.c: which line has the tune, and which the bass, bar by bar: the line that costs least, where
 * to change lines costs something too.
 */
#include "score/region.h"
#include "study/study.h"
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* Set by hand; tests/reference/hearing.mjs measures them. */
enum {
    SILENT = 4000,
    SUNG = -6000, /* a singer has the tune */
    DEEPER = 70,  /* each semitone below the highest line */
    CHOIR = 3,    /* singers and more: their tune is on top, so many times likelier */
    DEEPEST = 2800,
    REPEATED = 1200, /* if all tones repeat the one before */
    LEAPING = 1500,  /* if all intervals are leaps: broken chords */
    SWINGING = 1500, /* if all tones are the one before the last again: a pattern */
    THICK = 900,     /* if all are chords of three tones and more */
    HELD = 700,      /* one tone only */
    OTHER_LINE = 2500,
    HIGHER = 120, /* of the bass, each semitone above the lowest line */
    OTHER_BASS = 2500,
    NO_BASS = 1500, /* a bar in which the line is silent */
    FORBIDDEN = 1 << 24,
    A_LEAP = 5 /* semitones */
};

/* What a line does in a bar. */
struct doing {
    int32_t tones; /* of its outer strand */
    int32_t semitones;
    int32_t low;
    int32_t repeated;
    int32_t leaps;
    int32_t swings;
    int32_t thick;
    int32_t last;
    bool is_allowed;
};

struct table {
    const muta_study *study;
    size_t bars;
    size_t lines;
    struct doing *doings; /* by bar, then line */
    uint32_t *strands;    /* by tone: 1 the top of its event, 2 the bottom, 3 both */
    bool *sung;           /* by line */
    size_t singers;
};

static struct doing *doing_at(const struct table *table, size_t bar, size_t line)
{
    return &table->doings[bar * table->lines + line];
}

/* Which tones are the outer ones of their events. */
static void find_strands(struct table *table)
{
    const muta_heard *const heard = &table->study->heard;
    const muta_weave *const work = &table->study->passage->work;

    for (size_t i = 0; i < heard->tones.count; i++) {
        const muta_heard_tone *const tone = &heard->tones.at[i];
        const muta_event *const event = &work->events.at[tone->event];
        table->strands[i] = (tone->tone + 1 == event->tone + event->tone_count ? 1U : 0U) |
                            (tone->tone == event->tone ? 2U : 0U);
    }
}

static muta_status look(struct table *table, const muta_region *only)
{
    const muta_heard *const heard = &table->study->heard;
    const muta_weave *const work = &table->study->passage->work;
    int32_t *const before = calloc(table->lines * 2 + 1, sizeof *before);

    if (!before)
        return MUTA_E_MEMORY;
    for (size_t i = 0; i < heard->tones.count; i++) {
        const muta_heard_tone *const tone = &heard->tones.at[i];
        const size_t bar = (size_t)(muta_heard_bar_at(heard, tone->from) - heard->bars.at);
        struct doing *const doing = doing_at(table, bar, tone->line);
        if (doing->tones == 0 || tone->midi < doing->low)
            doing->low = tone->midi;
        if (!(table->strands[i] & 1))
            continue;
        doing->is_allowed = doing->is_allowed || !only ||
                            muta_passage_is_in(table->study->passage, tone->event, only);
        doing->tones++;
        doing->semitones += tone->midi;
        doing->repeated += before[tone->line] == tone->midi;
        doing->leaps += before[tone->line] && abs(before[tone->line] - tone->midi) >= A_LEAP;
        doing->thick += work->events.at[tone->event].tone_count >= 3;
        doing->swings +=
            before[table->lines + tone->line] == tone->midi && before[tone->line] != tone->midi;
        before[table->lines + tone->line] = before[tone->line];
        before[tone->line] = tone->midi;
    }
    free(before);
    return MUTA_OK;
}

static int32_t price_tune(const struct table *table, size_t bar, size_t line)
{
    const struct doing *const doing = doing_at(table, bar, line);
    int32_t highest = 0;

    if (doing->tones == 0)
        return SILENT + (table->sung[line] ? SUNG / 2 : 0);
    if (!doing->is_allowed)
        return FORBIDDEN;
    for (size_t i = 0; i < table->lines; i++) {
        const struct doing *const other = doing_at(table, bar, i);
        if (other->tones > 0 && other->semitones / other->tones > highest)
            highest = other->semitones / other->tones;
    }
    const bool is_choir = table->sung[line] && table->singers >= CHOIR;
    const int32_t deeper =
        (is_choir ? CHOIR : 1) * DEEPER * (highest - doing->semitones / doing->tones);
    return (deeper < DEEPEST ? deeper : DEEPEST) + SWINGING * doing->swings / doing->tones +
           REPEATED * doing->repeated / doing->tones + LEAPING * doing->leaps / doing->tones +
           THICK * doing->thick / doing->tones + (doing->tones == 1 ? HELD : 0) +
           (table->sung[line] ? SUNG : 0);
}

static int32_t price_bass(const struct table *table, size_t bar, size_t line)
{
    const struct doing *const doing = doing_at(table, bar, line);
    int32_t lowest = INT32_MAX;

    if (doing->tones == 0)
        return NO_BASS;
    if (!doing->is_allowed)
        return FORBIDDEN;
    for (size_t i = 0; i < table->lines; i++)
        if (doing_at(table, bar, i)->tones > 0 && doing_at(table, bar, i)->low < lowest)
            lowest = doing_at(table, bar, i)->low;
    return HIGHER * (doing->low - lowest);
}

/* The cheapest line for each bar. @param lines  [out] by bar */
static muta_status choose(const struct table *table, int32_t other_line,
                          int32_t (*price)(const struct table *, size_t, size_t), uint32_t *lines)
{
    int64_t *const costs = calloc(table->lines + 1, sizeof *costs);
    uint32_t *const back = calloc(table->bars * table->lines + 1, sizeof *back);
    uint32_t best = 0;

    if (!costs || !back) {
        free(costs);
        free(back);
        return MUTA_E_MEMORY;
    }
    for (size_t bar = 0; bar < table->bars; bar++) {
        const uint32_t cheapest = best;
        const int64_t cost = costs[cheapest] + other_line;
        for (uint32_t i = 0; i < table->lines; i++) {
            const bool stays = bar == 0 || costs[i] <= cost;
            back[bar * table->lines + i] = stays ? i : cheapest;
            costs[i] = (stays ? costs[i] : cost) + price(table, bar, i);
        }
        best = 0;
        for (uint32_t i = 1; i < table->lines; i++)
            if (costs[i] < costs[best])
                best = i;
    }
    for (size_t bar = table->bars; bar > 0; bar--) {
        lines[bar - 1] = best;
        best = back[(bar - 1) * table->lines + best];
    }
    free(costs);
    free(back);
    return MUTA_OK;
}

static muta_status add_leads(muta_study *study, const uint32_t *lines, muta_leads *leads)
{
    for (size_t bar = 0; bar < study->heard.bars.count; bar++) {
        const muta_heard_bar *const of = &study->heard.bars.at[bar];
        if (leads->count > 0 && leads->at[leads->count - 1].line == lines[bar]) {
            leads->at[leads->count - 1].to = of->to;
            continue;
        }
        muta_lead *const lead = MUTA_PUSH(&study->arena, leads);
        if (!lead)
            return MUTA_E_MEMORY;
        *lead = (muta_lead){of->from, of->to, lines[bar]};
    }
    return MUTA_OK;
}

/* The outer tones of the leading lines, one after the other. */
static muta_status add_melody(muta_study *study, const struct table *table, const muta_leads *leads,
                              uint32_t strand, muta_melody *melody)
{
    const muta_heard *const heard = &study->heard;
    size_t lead = 0;

    for (size_t i = 0; i < heard->tones.count && leads->count > 0; i++) {
        const muta_heard_tone *const tone = &heard->tones.at[i];
        while (lead + 1 < leads->count && leads->at[lead].to <= tone->from)
            lead++;
        if (tone->line != leads->at[lead].line || !(table->strands[i] & strand))
            continue;
        uint32_t *const added = MUTA_PUSH(&study->arena, melody);
        if (!added)
            return MUTA_E_MEMORY;
        *added = (uint32_t)i;
    }
    return MUTA_OK;
}

static muta_status find_leads(muta_study *study, struct table *table, const char *address,
                              bool is_bass, muta_diags *diags)
{
    muta_leads *const leads = is_bass ? &study->bass_leads : &study->tune_leads;
    uint32_t *const lines = calloc(table->bars + 1, sizeof *lines);
    muta_region *only = NULL;
    muta_status status = lines ? MUTA_OK : MUTA_E_MEMORY;

    if (status == MUTA_OK && address)
        status = muta_region_parse(study->score, address, &only, diags);
    if (status == MUTA_OK) {
        memset(table->doings, 0, table->bars * table->lines * sizeof *table->doings);
        status = look(table, only);
    }
    if (status == MUTA_OK)
        status = choose(table, is_bass ? OTHER_BASS : OTHER_LINE, is_bass ? price_bass : price_tune,
                        lines);
    if (status == MUTA_OK)
        status = add_leads(study, lines, leads);
    if (status == MUTA_OK)
        status =
            add_melody(study, table, leads, is_bass ? 2 : 1, is_bass ? &study->bass : &study->tune);
    muta_region_free(only);
    free(lines);
    return status;
}

muta_status muta_tune_find(muta_study *study, const muta_study_request *request, muta_diags *diags)
{
    struct table table = {
        .study = study, .bars = study->heard.bars.count, .lines = study->passage->work.lines.count};
    muta_status status = MUTA_OK;

    if (study->heard.tones.count == 0)
        return MUTA_OK;
    table.doings = calloc(table.bars * table.lines + 1, sizeof *table.doings);
    table.strands = calloc(study->heard.tones.count + 1, sizeof *table.strands);
    table.sung = calloc(table.lines + 1, sizeof *table.sung);
    if (!table.doings || !table.strands || !table.sung)
        status = MUTA_E_MEMORY;
    for (size_t i = 0; status == MUTA_OK && i < table.lines; i++) {
        table.sung[i] = muta_passage_is_sung(study->passage, &study->passage->work.lines.at[i]);
        table.singers += table.sung[i];
    }
    if (status == MUTA_OK) {
        find_strands(&table);
        status = find_leads(study, &table, request->tune, false, diags);
    }
    if (status == MUTA_OK)
        status = find_leads(study, &table, request->bass, true, diags);
    free(table.doings);
    free(table.strands);
    free(table.sung);
    return status;
}

const char *muta_lead_print(const muta_study *study, const muta_lead *lead, char *text, size_t room)
{
    const muta_line *const line = &study->passage->work.lines.at[lead->line];
    const muta_part *const part = &study->score->parts[line->part];
    const muta_heard_bar *const first = muta_heard_bar_at(&study->heard, lead->from);
    const muta_heard_bar *const last = muta_heard_bar_at(&study->heard, lead->to - 1);

    (void)snprintf(text, room, "%u/%u/%zu:#%u-#%u", line->part + 1,
                   part->voices.at[line->voice].home, muta_part_voice_number(part, line->voice),
                   first->index + 1, last->index + 1);
    return text;
}

muta_range muta_lead_range(const muta_study *study, const muta_lead *lead)
{
    const muta_line *const line = &study->passage->work.lines.at[lead->line];

    return (muta_range){.part = line->part,
                        .voice = line->voice,
                        .from = muta_look_moment(study, lead->from),
                        .to = muta_look_moment(study, lead->to)};
}

const muta_lead *muta_tune_longest(const muta_study *study)
{
    const muta_lead *longest = NULL;
    int64_t most = 0;

    for (size_t i = 0; i < study->tune_leads.count; i++) {
        const muta_lead *const lead = &study->tune_leads.at[i];
        int64_t lasts = 0;
        for (size_t j = 0; j < study->tune_leads.count; j++)
            if (study->tune_leads.at[j].line == lead->line)
                lasts += study->tune_leads.at[j].to - study->tune_leads.at[j].from;
        if (lasts > most) {
            most = lasts;
            longest = lead;
        }
    }
    return longest;
}
