/*
 * companions.c: which lines go with the tune, bar by bar: they strike when it strikes, and nothing
 * else; in octaves, thirds or sixths with it, or on tones of their own. A lone pair of tones is no
 * companion, nor is what strikes chords.
 */
#include "study/study.h"

enum {
    FEWEST = 6,    /* tones that are struck together */
    PARALLEL = 80, /* percent of them that are an octave, third or sixth apart, */
    MOVING = 60,   /* and of them that move as the tune does, by as many steps */
    A_RUN = 2,     /* bars */
    OCTAVE = 7     /* steps */
};

/* The tones of each line, in order of time; of several at once the highest, and how many. */
struct voice {
    MUTA_VEC(uint32_t) tones; /* of `heard` */
    bool has_chords;
};

/* What a line does beside the tune in a run of bars. */
struct run {
    int64_t from;
    int64_t to;
    size_t bars;
    size_t together;
    size_t parallel;
    size_t moving;
    int32_t apart; /* the last two, in steps */
};

static muta_status list_voices(muta_study *study, struct voice *voices)
{
    const muta_heard *const heard = &study->heard;
    const muta_weave *const work = &study->passage->work;

    for (size_t i = 0; i < heard->tones.count; i++) {
        const muta_heard_tone *const tone = &heard->tones.at[i];
        const muta_event *const event = &work->events.at[tone->event];
        if (tone->tone + 1 != event->tone + event->tone_count)
            continue;
        uint32_t *const made = MUTA_PUSH(&study->arena, &voices[tone->line].tones);
        if (!made)
            return MUTA_E_MEMORY;
        *made = (uint32_t)i;
    }
    return MUTA_OK;
}

/* The first of a row of tones that does not begin before a moment. */
static size_t first_from(const muta_study *study, const uint32_t *tones, size_t count, int64_t at)
{
    size_t low = 0;
    size_t high = count;

    while (low < high) {
        const size_t middle = low + (high - low) / 2;
        if (study->heard.tones.at[tones[middle]].from < at)
            low = middle + 1;
        else
            high = middle;
    }
    return low;
}

static bool is_parallel(const muta_heard_tone *one, const muta_heard_tone *two)
{
    const int32_t steps = one->place - two->place;
    const int32_t within = (steps % OCTAVE + OCTAVE) % OCTAVE;

    return within == 0 || within == 2 || within == 5;
}

/* Whether a line does in a bar what the tune does, and no more. @param run  counts its tones */
static bool goes_along(const muta_study *study, const struct voice *voice,
                       const muta_heard_bar *bar, struct run *run)
{
    const muta_weave *const work = &study->passage->work;
    const muta_heard_tone *const tones = study->heard.tones.at;
    size_t theirs = first_from(study, voice->tones.at, voice->tones.count, bar->from);
    size_t ours = first_from(study, study->tune.at, study->tune.count, bar->from);

    for (;; ours++, theirs++) {
        const bool has_ours =
            ours < study->tune.count && tones[study->tune.at[ours]].from < bar->to;
        const bool has_theirs =
            theirs < voice->tones.count && tones[voice->tones.at[theirs]].from < bar->to;
        if (!has_ours || !has_theirs)
            return has_ours == has_theirs;
        const muta_heard_tone *const one = &tones[study->tune.at[ours]];
        const muta_heard_tone *const two = &tones[voice->tones.at[theirs]];
        if (one->from != two->from || one->to != two->to ||
            work->events.at[two->event].tone_count > 1)
            return false;
        run->together++;
        run->parallel += is_parallel(one, two);
        run->moving += run->together > 1 && run->apart == one->place - two->place;
        run->apart = one->place - two->place;
    }
}

static muta_status end_run(muta_study *study, uint32_t line, const struct run *run)
{
    if (run->bars < A_RUN || run->together < FEWEST)
        return MUTA_OK;
    muta_companion *const made = MUTA_PUSH(&study->arena, &study->companions);
    if (!made)
        return MUTA_E_MEMORY;
    *made = (muta_companion){{run->from, run->to, line},
                             run->parallel * 100 >= run->together * PARALLEL &&
                                 run->moving * 100 >= run->together * MOVING};
    return MUTA_OK;
}

/* The stretches of a lead in which a line goes along with it. */
static muta_status follow(muta_study *study, const struct voice *voice, uint32_t line,
                          const muta_lead *lead)
{
    struct run run = {0};

    for (size_t i = 0; i < study->heard.bars.count; i++) {
        const muta_heard_bar *const bar = &study->heard.bars.at[i];
        if (bar->from < lead->from || bar->from >= lead->to)
            continue;
        const struct run before = run;
        if (run.bars == 0)
            run.from = bar->from;
        if (goes_along(study, voice, bar, &run)) {
            run.bars++;
            run.to = bar->to;
            continue;
        }
        MUTA_TRY(end_run(study, line, &before));
        run = (struct run){0};
    }
    return end_run(study, line, &run);
}

muta_status muta_companions_find(muta_study *study)
{
    const size_t lines = study->passage->work.lines.count;
    struct voice *const voices = muta_arena_take_array(&study->arena, lines + 1, sizeof *voices);

    if (!voices)
        return MUTA_E_MEMORY;
    MUTA_TRY(list_voices(study, voices));
    for (size_t i = 0; i < study->tune_leads.count; i++) {
        const muta_lead lead = study->tune_leads.at[i];
        for (uint32_t line = 0; line < lines; line++)
            if (line != lead.line)
                MUTA_TRY(follow(study, &voices[line], line, &lead));
    }
    return MUTA_OK;
}
