/* simplify.c: back to the skeleton: what it does not hold gives its time to what it holds. */
#include "passes/pass.h"
#include "score/sense.h"
#include <stdlib.h>

enum {
    OF_TUNE,
    OF_ALL
};

static const char *const ofs[] = {"tune", "all", NULL};

struct args {
    int64_t depth;
    int of;
};

static const muta_param params[] = {
    MUTA_ARG_COUNT(
        struct args, depth, "1", 1, 4, "levels",
        "what stays: 1 chord tones, 2 those on beats, 3 one a bar, 4 the ends of phrases"),
    MUTA_ARG_CHOICE(struct args, of, "tune", ofs, "the highest line of the passage, or all"),
};

/* Syllables that follow each other: the written notes of the first and the last. */
struct words {
    uint32_t first;
    uint32_t last;
};

/* The tone that comes next. */
static const uint32_t UNSAID = UINT32_MAX;

static const struct words no_words = {MUTA_NO_SOURCE, MUTA_NO_SOURCE};

/* Others behind those that are there. */
static void join(struct words *words, struct words others)
{
    if (words->first == MUTA_NO_SOURCE)
        *words = others;
    else if (others.last != MUTA_NO_SOURCE)
        words->last = others.last;
}

/* A tone that stays, and the time it has now; or one with a syllable that says another again. */
struct kept {
    uint32_t event;
    uint32_t says; /* the event whose pitch it has */
    muta_fraction onset;
    muta_fraction end;
    struct words words;
};

struct simplifying {
    const muta_call *call;
    muta_texture work;
    muta_arena arena;
    MUTA_VEC(struct kept) kept;
    size_t unsaid;         /* how many of what is kept wait for the next tone to say */
    muta_fraction waiting; /* where time begins that the next tone gets; invalid: none waits */
    uint32_t waiter;       /* the event that was taken out there */
    struct words words;    /* that wait with it */
    uint32_t *first;       /* by event of the line: what it returns from */
    bool *stays;           /* by event of the line: it stays wherever it comes */
    size_t lost;           /* syllables that lost their tone */
};

static bool must_stay(const struct simplifying *simplifying, const muta_line *line, uint32_t index)
{
    const muta_event *const event =
        &simplifying->work.events[muta_texture_main(&simplifying->work, line, index)];
    const struct args *args = simplifying->call->args;

    return event->is_grace || event->is_cue || simplifying->work.tones[event->tone].is_fixed ||
           event->depth >= args->depth || event->closes ||
           (simplifying->call->kept && simplifying->call->kept[index]);
}

/* What comes back is simplified alike: what must stay once stays each time. */
static muta_status find_staying(struct simplifying *simplifying, const muta_line *line)
{
    MUTA_TRY(muta_sense_returns(simplifying->call->in, line, true, &simplifying->arena,
                                &simplifying->first));
    simplifying->stays = muta_arena_take_array(&simplifying->arena, line->event_count + 1,
                                               sizeof *simplifying->stays);
    if (!simplifying->stays)
        return MUTA_E_MEMORY;
    for (uint32_t i = line->event; i < line->event + line->event_count; i++)
        if (must_stay(simplifying, line, i))
            simplifying->stays[simplifying->first[i - line->event] - line->event] = true;
    return MUTA_OK;
}

static bool stays(const struct simplifying *simplifying, const muta_line *line, uint32_t index)
{
    return simplifying->stays[simplifying->first[index - line->event] - line->event];
}

/* A foreign tone on the beat goes on to the next, if that comes by step on a weaker moment. */
static bool goes_on(const struct simplifying *simplifying, const muta_line *line, uint32_t index)
{
    const muta_event *const events = simplifying->work.events;
    const uint32_t next = index + 1;

    return next < line->event + line->event_count && !events[next].is_grace &&
           events[index].level <= 2 && events[next].level > events[index].level &&
           abs(muta_texture_top(&simplifying->work, next)->pitch.place -
               muta_texture_top(&simplifying->work, index)->pitch.place) == 1;
}

/* The last tone that stays and lasts; NULL before the first. */
static struct kept *last_kept(struct simplifying *simplifying)
{
    size_t at = simplifying->kept.count;

    while (at > 0 && simplifying->work.events[simplifying->kept.at[at - 1].event].is_grace)
        at--;
    return at > 0 ? &simplifying->kept.at[at - 1] : NULL;
}

/* What waits for a tone to say says this one, or its own. */
static void say(struct simplifying *simplifying, uint32_t index)
{
    for (size_t i = simplifying->kept.count; i > 0 && simplifying->unsaid > 0; i--) {
        struct kept *const kept = &simplifying->kept.at[i - 1];
        if (kept->says != UNSAID)
            continue;
        kept->says = index == UNSAID ? kept->event : index;
        simplifying->unsaid--;
    }
}

/* An event that stays, with the pitch of another or its own; NULL when memory runs out. */
static struct kept *push_kept(struct simplifying *simplifying, uint32_t index, uint32_t says,
                              muta_fraction end)
{
    const muta_event *const event = &simplifying->work.events[index];
    struct kept *const kept = MUTA_PUSH(&simplifying->arena, &simplifying->kept);

    if (kept)
        *kept = (struct kept){
            index, says, event->onset, end, {event->written.syllable, event->written.syllable}};
    return kept;
}

/* At the first depth the words can still be sung: a syllable of its own keeps its moment, and says
 * the tone that its own gives way to. */
static muta_status say_again(struct simplifying *simplifying, uint32_t index, muta_fraction end,
                             uint32_t says)
{
    simplifying->unsaid += says == UNSAID;
    return push_kept(simplifying, index, says, end) ? MUTA_OK : MUTA_E_MEMORY;
}

static muta_status keep(struct simplifying *simplifying, uint32_t index, muta_fraction end)
{
    const muta_event *const event = &simplifying->work.events[index];
    struct kept *const kept = push_kept(simplifying, index, index, end);

    if (!kept)
        return MUTA_E_MEMORY;
    if (event->is_grace)
        return MUTA_OK;
    say(simplifying, index);
    join(&simplifying->words, kept->words);
    kept->words = simplifying->words;
    simplifying->words = no_words;
    if (muta_fraction_is_valid(simplifying->waiting))
        kept->onset = simplifying->waiting;
    /* Its grace notes come along. */
    for (struct kept *grace = kept; grace > simplifying->kept.at; grace--) {
        const muta_event *const of = &simplifying->work.events[grace[-1].event];
        if (!of->is_grace || of->is_after)
            break;
        grace[-1].onset = kept->onset;
    }
    simplifying->waiting = (muta_fraction){0, 0};
    return MUTA_OK;
}

/* What is taken out: a foreign tone that leaned on the next gives its time to that, others theirs
 * to the one before. */
static muta_status take_out(struct simplifying *simplifying, const muta_line *line, uint32_t index,
                            muta_fraction end)
{
    const struct args *args = simplifying->call->args;
    const muta_event *const event = &simplifying->work.events[index];
    struct kept *const before = last_kept(simplifying);
    const bool follows = before && !muta_fraction_is_valid(simplifying->waiting) &&
                         muta_fraction_compare(before->end, event->onset) == 0;
    /* Nor is a weak tone held over a strong moment. */
    const bool leans = event->leans || goes_on(simplifying, line, index) ||
                       (follows && event->level < simplifying->work.events[before->event].level);

    if (event->is_grace)
        return MUTA_OK;
    /* What ends a phrase keeps its time: what comes behind it stays, or waits for the next. */
    if (follows && simplifying->work.events[before->event].closes)
        return keep(simplifying, index, end);
    if (args->depth == 1 && event->written.syllable != MUTA_NO_SOURCE && event->tone_count == 1 &&
        !muta_fraction_is_valid(simplifying->waiting))
        return say_again(simplifying, index, end, follows && !leans ? before->says : UNSAID);
    if (follows && !leans) {
        before->end = end;
        join(&before->words, (struct words){event->written.syllable, event->written.syllable});
        return MUTA_OK;
    }
    /* An up-beat behind a rest has nobody to give its time to. */
    if (!follows && !leans && !muta_fraction_is_valid(simplifying->waiting))
        return keep(simplifying, index, end);
    join(&simplifying->words, (struct words){event->written.syllable, event->written.syllable});
    if (!muta_fraction_is_valid(simplifying->waiting)) {
        simplifying->waiting = event->onset;
        simplifying->waiter = index;
    }
    return MUTA_OK;
}

/* Time that waits up to a rest goes to the tone before it, if that comes up to it. What has no tone
 * to say keeps its own. */
static void end_waiting(struct simplifying *simplifying, muta_fraction until)
{
    struct kept *const before = last_kept(simplifying);
    const bool joins = before && muta_fraction_is_valid(simplifying->waiting) &&
                       muta_fraction_compare(before->end, simplifying->waiting) == 0;

    say(simplifying, UNSAID);
    if (joins) {
        before->end = until;
        join(&before->words, simplifying->words);
    } else {
        simplifying->lost += simplifying->words.first != MUTA_NO_SOURCE;
    }
    simplifying->waiting = (muta_fraction){0, 0};
    simplifying->words = no_words;
}

/* What ends a phrase, or stands on a stronger moment, begins when it did: time that waits for it
 * goes to the tone before it, or to the first of those that were taken out. */
static muta_status end_before(struct simplifying *simplifying, const muta_event *event)
{
    const struct kept *const before = last_kept(simplifying);
    const struct words words = simplifying->words;

    if (event->is_grace || !muta_fraction_is_valid(simplifying->waiting) ||
        (!event->closes && event->level >= simplifying->work.events[simplifying->waiter].level))
        return MUTA_OK;
    if (before && !simplifying->work.events[before->event].closes &&
        muta_fraction_compare(before->end, simplifying->waiting) == 0) {
        end_waiting(simplifying, event->onset);
        return MUTA_OK;
    }
    MUTA_TRY(keep(simplifying, simplifying->waiter, event->onset));
    last_kept(simplifying)->words = words;
    return MUTA_OK;
}

static muta_status choose(struct simplifying *simplifying, const muta_line *line)
{
    muta_fraction ended = MUTA_ZERO;

    simplifying->kept.count = 0;
    simplifying->waiting = (muta_fraction){0, 0};
    simplifying->words = no_words;
    MUTA_TRY(find_staying(simplifying, line));
    for (uint32_t i = line->event; i < line->event + line->event_count; i++) {
        const muta_event *const event = &simplifying->work.events[i];
        const muta_fraction end = muta_fraction_add(event->onset, event->duration);
        if (muta_fraction_compare(ended, event->onset) < 0)
            end_waiting(simplifying, ended);
        MUTA_TRY(end_before(simplifying, event));
        MUTA_TRY(stays(simplifying, line, i) ? keep(simplifying, i, end)
                                             : take_out(simplifying, line, i, end));
        ended = muta_fraction_max(ended, end);
    }
    end_waiting(simplifying, ended);
    return MUTA_OK;
}

static muta_status simplify_line(struct simplifying *simplifying, size_t nth)
{
    const struct args *args = simplifying->call->args;
    const muta_line *const line = &simplifying->work.lines[nth];

    MUTA_TRY(muta_passage_begin_line(simplifying->call->out, simplifying->call->in, nth));
    if (args->of == OF_ALL || nth == 0) {
        MUTA_TRY(choose(simplifying, line));
    } else {
        simplifying->kept.count = 0;
        for (uint32_t i = line->event; i < line->event + line->event_count; i++)
            MUTA_TRY(keep(simplifying, i,
                          muta_fraction_add(simplifying->work.events[i].onset,
                                            simplifying->work.events[i].duration)));
    }
    for (size_t i = 0; i < simplifying->kept.count; i++) {
        const struct kept *const kept = &simplifying->kept.at[i];
        const bool is_grace = simplifying->work.events[kept->event].is_grace;
        MUTA_TRY(muta_passage_put_event(
            simplifying->call->out, simplifying->call->in, kept->event, kept->onset,
            is_grace ? MUTA_ZERO : muta_fraction_subtract(kept->end, kept->onset)));
        muta_event *const made = &muta_passage_events(
            simplifying->call->out)[muta_passage_work(simplifying->call->out).event_count - 1];
        if (kept->says != kept->event)
            muta_passage_set_pitch(simplifying->call->out,
                                   &muta_passage_tones(simplifying->call->out)[made->tone],
                                   muta_texture_top(&simplifying->work, kept->says)->pitch);
        made->written.syllable = kept->words.first;
        made->written.joined =
            kept->words.last == kept->words.first ? MUTA_NO_SOURCE : kept->words.last;
    }
    return MUTA_OK;
}

static muta_status run(const muta_call *call)
{
    struct simplifying simplifying = {.call = call, .work = muta_passage_work(call->in)};
    muta_status status = muta_passage_begin(call->out, call->in);

    for (size_t i = 0; status == MUTA_OK && i < simplifying.work.line_count; i++)
        status = simplify_line(&simplifying, i);
    muta_arena_clear(&simplifying.arena);
    if (status == MUTA_OK && simplifying.lost > 0)
        muta_diag_add(call->diags, MUTA_WARNING, MUTA_NOWHERE,
                      "in %zu places syllables have lost their tone and are gone",
                      simplifying.lost);
    return status;
}

const muta_pass muta_pass_simplify = {
    .name = "simplify",
    .group = "melody",
    .summary = "back to the skeleton",
    .keeps = "the tones of the skeleton, as deep as is asked, and how long it all lasts",
    MUTA_PARAMS(params, struct args),
    .where = MUTA_TUNE,
    .needs = MUTA_NEEDS_PITCH | MUTA_NEEDS_STUDY,
    .effect = MUTA_KEEPS_CHORDS | MUTA_DIVIDES_TONES,
    .answer = MUTA_MAY_FIND_NOTHING,
    .run = run,
};
