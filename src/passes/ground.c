/* ground.c: keeps the bass, or the chords, and loops them; or brings a historic ground. */
#include "passes/chain.h"
#include "passes/historic.h"
#include "passes/pass.h"
#include "score/texture.h"
#include "study/heard.h"
#include "theory/table.h"
#include <stdlib.h>
#include <string.h>

struct args {
    const char *from;
    int64_t times;
    const char *above;
};

static const muta_param params[] = {
    MUTA_ARG_WORD(struct args, from, "chords",
                  "bass, chords, or the name of a historic ground (shared/grounds.txt)"),
    MUTA_ARG_COUNT(struct args, times, "4", 1, 64, "rounds", "how often it goes round"),
    MUTA_ARG_TEXT(struct args, above,
                  "chains for what is laid over each round, parted by ; the last goes on"),
};

enum {
    CHAINS = 64
};

struct grounding {
    const muta_call *call;
    const struct args *args;
    muta_texture work;
    muta_arena arena;
    muta_chain *chains[CHAINS];
    size_t chain_count;
    bool is_named;
    bool is_alone; /* a tune with nothing below: a named ground gets a part of its own */
    muta_ground ground;
    const muta_fraction *rounds; /* of a named ground: where each begins */
    const muta_line *tune;
    const muta_line *bass;
    muta_fraction round;                 /* of the passage, the pick-up with it */
    MUTA_VEC(muta_passage_chord) chords; /* of all rounds */
    MUTA_VEC(uint32_t) rows;             /* of the time map: the first of each round */
};

/* ---- what was asked for ---- */

static bool is_word(const char *from, const char *word)
{
    return strcmp(from, word) == 0;
}

static muta_status refuse(const struct grounding *grounding)
{
    char names[400];
    char name[MUTA_TABLE_NAME];
    const char *const nearest = muta_table_nearest(muta_table_grounds, grounding->args->from, name);

    if (nearest)
        muta_diag_add(grounding->call->diags, MUTA_ERROR, MUTA_NOWHERE,
                      "from=%.60s is not known; did you mean from=%s?", grounding->args->from,
                      nearest);
    else
        muta_diag_add(grounding->call->diags, MUTA_ERROR, MUTA_NOWHERE,
                      "from=%.60s is not known; there are bass, chords, %s", grounding->args->from,
                      muta_table_names(muta_table_grounds, names, sizeof names));
    return MUTA_E_USAGE;
}

/* The chains of `above`, with single quotes for double ones. */
static muta_status read_chains(struct grounding *grounding)
{
    const char *at = grounding->args->above;
    char text[512];

    while (at && *at) {
        const size_t length = strcspn(at, ";");
        if (grounding->chain_count == CHAINS) {
            muta_diag_add(grounding->call->diags, MUTA_ERROR, MUTA_NOWHERE,
                          "above= takes %d chains at most", CHAINS);
            return MUTA_E_USAGE;
        }
        if (length >= sizeof text) {
            muta_diag_add(grounding->call->diags, MUTA_ERROR, MUTA_NOWHERE,
                          "a chain of above= is too long; shorten it");
            return MUTA_E_USAGE;
        }
        memcpy(text, at, length);
        text[length] = '\0';
        for (char *quote = text; (quote = strchr(quote, '\''));)
            *quote = '"';
        at += length + (at[length] == ';');
        MUTA_TRY(muta_chain_parse(text + strspn(text, " "),
                                  &grounding->chains[grounding->chain_count],
                                  grounding->call->diags));
        grounding->chain_count++;
    }
    return MUTA_OK;
}

static const muta_chain *chain_of(const struct grounding *grounding, int64_t round)
{
    const size_t last = grounding->chain_count - 1;

    return grounding->chain_count == 0
               ? NULL
               : grounding->chains[(size_t)round < last ? (size_t)round : last];
}

/* ---- rounds ---- */

/* Where a round begins: of a named ground its first down-beat, of the passage its pick-up. */
static muta_fraction round_at(const struct grounding *grounding, int64_t round)
{
    return grounding->is_named ? grounding->rounds[round]
                               : muta_fraction_scale(grounding->round, round);
}

/* The chords of the passage as they go round. */
static muta_status take_chords(struct grounding *grounding)
{
    muta_passage_chord *chords;
    size_t count;

    MUTA_TRY(muta_passage_list_chords(grounding->call->in, &grounding->arena, &chords, &count));
    for (int64_t round = 0; round < grounding->args->times; round++)
        for (size_t i = 0; i < count; i++) {
            const muta_fraction onset = round_at(grounding, round);
            muta_passage_chord *const last =
                grounding->chords.count ? &grounding->chords.at[grounding->chords.count - 1] : NULL;
            muta_passage_chord chord = chords[i];
            chord.from = muta_fraction_add(chord.from, onset);
            chord.to = muta_fraction_add(chord.to, onset);
            if (last && muta_fraction_compare(chord.from, last->to) < 0)
                chord.from = last->to;
            if (muta_fraction_compare(chord.from, chord.to) >= 0)
                continue;
            muta_passage_chord *const added = MUTA_PUSH(&grounding->arena, &grounding->chords);
            if (!added)
                return MUTA_E_MEMORY;
            *added = chord;
        }
    return MUTA_OK;
}

/* Whether an event is looped. */
static bool goes_round(const struct grounding *grounding, const muta_line *line, uint32_t event)
{
    const muta_event *const of = &grounding->work.events[event];
    const bool all = grounding->call->others != MUTA_OTHERS_REST;

    if (is_word(grounding->args->from, "chords") && !(line->is_tune && grounding->tune))
        return true;
    return all || grounding->work.tones[of->tone].is_bass ||
           (!grounding->bass && line == &grounding->work.lines[grounding->work.line_count - 1]);
}

/* One round of the passage: the first has everything but the tune, which what is laid over it has.
 */
static muta_status put_round(struct grounding *grounding, muta_passage *to, int64_t round)
{
    const muta_passage *const in = grounding->call->in;

    MUTA_TRY(muta_passage_begin(to, in));
    for (size_t i = 0; i < grounding->work.line_count; i++) {
        const muta_line *const line = &grounding->work.lines[i];
        if (grounding->chain_count > 0 && line == grounding->tune)
            continue;
        MUTA_TRY(muta_passage_begin_line(to, in, i));
        for (uint32_t j = line->event; j < line->event + line->event_count; j++)
            if (round == 0 || goes_round(grounding, line, j))
                MUTA_TRY(muta_passage_put_event(to, in, j, grounding->work.events[j].onset,
                                                grounding->work.events[j].duration));
    }
    return muta_passage_settle(to);
}

static muta_status add_round(struct grounding *grounding, int64_t round)
{
    uint32_t *const row = MUTA_PUSH(&grounding->arena, &grounding->rows);
    muta_passage *made;

    if (!row)
        return MUTA_E_MEMORY;
    *row = (uint32_t)grounding->call->out->map.count;
    MUTA_TRY(muta_passage_new_like(grounding->call->in, &made));
    muta_status status = put_round(grounding, made, round);
    if (status == MUTA_OK)
        status = muta_passage_append_part(grounding->call->out, made, MUTA_ZERO,
                                          round + 1 == grounding->args->times
                                              ? made->length
                                              : muta_fraction_min(made->length, grounding->round),
                                          round_at(grounding, round), NULL);
    muta_passage_free(made);
    return status;
}

/* ---- what is laid over them ---- */

/* The chords of a round, from its start. */
static muta_status take_lap_chords(struct grounding *grounding, muta_passage *upper,
                                   muta_fraction from)
{
    MUTA_VEC(muta_passage_chord) own = {0};

    for (size_t i = 0; i < grounding->chords.count; i++) {
        muta_passage_chord chord = grounding->chords.at[i];
        chord.from = muta_fraction_subtract(chord.from, from);
        chord.to = muta_fraction_subtract(chord.to, from);
        if (chord.to.top <= 0 || muta_fraction_compare(chord.from, upper->length) >= 0)
            continue;
        muta_passage_chord *const added = MUTA_PUSH(&grounding->arena, &own);
        if (!added)
            return MUTA_E_MEMORY;
        *added = chord;
    }
    return muta_passage_set_chords(upper, own.at, own.count);
}

/* Of the tune of a passage what lies in a round. */
static muta_status put_tune(const muta_passage *from, const muta_line *tune, muta_fraction start,
                            muta_passage *upper)
{
    const muta_event *const events = from->work.events.at;

    for (uint32_t i = tune->event; i < tune->event + tune->event_count; i++) {
        const muta_fraction onset = muta_fraction_subtract(events[i].onset, start);
        const muta_fraction room = muta_fraction_subtract(upper->length, onset);
        if (onset.top >= 0 && (room.top > 0 || (events[i].is_after && room.top == 0)))
            MUTA_TRY(muta_passage_put_event(
                upper, from, i, onset,
                muta_fraction_compare(events[i].duration, room) > 0 ? room : events[i].duration));
    }
    return MUTA_OK;
}

/* The ground itself, higher, of the round whose chords were taken. */
static muta_status put_ground_above(muta_passage *upper)
{
    enum {
        OCTAVE = 4
    };

    for (size_t i = 0; i < upper->chord_count; i++) {
        const muta_passage_chord *const chord = &upper->chords[i];
        const muta_chord_row *const row = muta_chord_row_of(chord->value.kind);
        const muta_pitch pitch =
            muta_fifths_pitch(chord->value.root + row->fifths[chord->value.bass], OCTAVE);
        MUTA_TRY(muta_passage_put_new(upper, chord->from,
                                      muta_fraction_subtract(chord->to, chord->from), &pitch, 1));
        muta_event *const event = &muta_passage_events(upper)[upper->work.events.count - 1];
        event->level = MUTA_LEVEL_BAR;
        event->depth = 1;
        event->closes = i + 1 == upper->chord_count;
    }
    return MUTA_OK;
}

/* What is laid over a round before its chain: the tune; where there is none over a named ground,
 * that itself, higher. @param from  what is laid over: the passage, or it over a named ground */
static muta_status put_upper(struct grounding *grounding, const muta_passage *from,
                             muta_passage *upper, int64_t round)
{
    const muta_texture work = muta_passage_work(from);
    const muta_line *const tune = grounding->tune ? muta_texture_tune(&work) : NULL;
    const muta_fraction start = round_at(grounding, round);

    MUTA_TRY(muta_passage_begin(upper, from));
    if (tune)
        MUTA_TRY(muta_passage_begin_line(upper, from, (size_t)(tune - work.lines)));
    else
        MUTA_TRY(muta_passage_begin_new_line(
            upper,
            upper->made_part == MUTA_NO_PART ? grounding->work.lines[0].part : upper->made_part, 1,
            0));
    upper->length = grounding->is_named
                        ? muta_fraction_subtract(round_at(grounding, round + 1), start)
                        : muta_passage_length(from);
    MUTA_TRY(take_lap_chords(grounding, upper, start));
    if (tune)
        MUTA_TRY(put_tune(from, tune, grounding->is_named ? start : MUTA_ZERO, upper));
    else if (grounding->is_named)
        MUTA_TRY(put_ground_above(upper));
    return muta_passage_settle(upper);
}

/* Puts what was laid over a round to it. Directions and symbols are stated by the round alone. */
static muta_status join(struct grounding *grounding, const muta_passage *varied,
                        muta_fraction length, int64_t round)
{
    muta_passage *const out = grounding->call->out;
    const size_t rows = out->map.count;
    const size_t first = out->work.events.count;

    MUTA_TRY(
        muta_passage_append_part(out, varied, MUTA_ZERO, length, round_at(grounding, round), NULL));
    out->map.count = rows;
    for (size_t i = first; i < out->work.events.count; i++)
        out->work.events.at[i].written.statement = grounding->rows.at[round];
    return MUTA_OK;
}

/* The tone of a passage that has an id; NULL when there is none. */
static const muta_tone *tone_of(const muta_passage *passage, uint32_t id)
{
    for (size_t i = 0; i < passage->work.tones.count; i++)
        if (passage->work.tones.at[i].id == id)
            return &passage->work.tones.at[i];
    return NULL;
}

/* A chain knows where tones come from in what it is given; for the pass they come from where those
 * did. */
static muta_status apply(const struct grounding *grounding, const muta_chain *chain,
                         muta_passage *passage, muta_passage **varied)
{
    const size_t count = passage->work.tones.count;
    uint32_t *const origins = malloc((count + 1) * sizeof *origins);

    if (!origins)
        return MUTA_E_MEMORY;
    for (size_t i = 0; i < count; i++) {
        origins[i] = passage->work.tones.at[i].origin;
        passage->work.tones.at[i].origin = passage->work.tones.at[i].id;
    }
    const muta_status status =
        muta_chain_apply(chain, passage, grounding->call->seed, varied, grounding->call->diags);
    for (size_t i = 0; status == MUTA_OK && i < (*varied)->work.tones.count; i++) {
        muta_tone *const tone = &(*varied)->work.tones.at[i];
        const muta_tone *const from = tone_of(passage, tone->origin);
        tone->origin = from ? origins[from - passage->work.tones.at] : 0;
    }
    free(origins);
    return status;
}

static muta_status lay_above(struct grounding *grounding, const muta_passage *from, int64_t round)
{
    const muta_chain *const chain = chain_of(grounding, round);
    muta_passage *upper;
    muta_passage *varied;

    if (!chain)
        return MUTA_OK;
    MUTA_TRY(muta_passage_new_like(from, &upper));
    muta_status status = put_upper(grounding, from, upper, round);
    if (status == MUTA_OK)
        status = apply(grounding, chain, upper, &varied);
    if (status == MUTA_OK) {
        status = join(grounding, varied, muta_fraction_min(varied->length, upper->length), round);
        muta_passage_free(varied);
    }
    muta_passage_free(upper);
    return status;
}

/* ---- the pass ---- */

/* Whether one singer is all there is; a second voice here and there is another reading. */
static bool is_one_singer(const muta_passage *in)
{
    const muta_texture work = muta_passage_work(in);

    bool is_sung = false;

    for (size_t i = 0; i < work.line_count; i++) {
        is_sung = is_sung || muta_passage_is_sung(in, &work.lines[i]);
        if (work.lines[i].part != work.lines[0].part || work.lines[i].staff != 1)
            return false;
    }
    return is_sung && muta_passage_context(in).event_count == 0;
}

/* A line that is all there is, and sung or too high for a bass. */
static bool is_lone_tune(const muta_passage *in)
{
    const muta_texture work = muta_passage_work(in);
    const muta_line *const line = muta_line_alone(in);

    return is_one_singer(in) || (line && !muta_lies_low(&work, line));
}

/* A tune with nothing below it, under which a named ground comes. */
static bool is_tune_alone(const muta_passage *in)
{
    return in->made_part != MUTA_NO_PART && is_lone_tune(in);
}

/* A named ground brings its signature, where it has the other mode on the tonic that is there. */
static muta_status sign_key(const struct grounding *grounding)
{
    const muta_passage_chord *const chord = &grounding->chords.at[0];
    muta_key key = {0, MUTA_MAJOR};
    muta_scale scale;

    if (!muta_passage_key(grounding->call->in, &key) ||
        muta_mode_is_minor(key.mode) == chord->is_minor ||
        key.fifths + (muta_mode_is_minor(key.mode) ? 3 : 0) != chord->tonic ||
        !muta_scale_find(chord->is_minor ? "natural-minor" : "major", &scale))
        return MUTA_OK;
    return muta_passage_recast_keys(grounding->call->out, &scale, grounding->call->keys,
                                    grounding->call->diags);
}

/* The passage itself goes round. */
static muta_status go_round(struct grounding *grounding)
{
    muta_passage *const out = grounding->call->out;
    const muta_fraction length = muta_passage_length(grounding->call->in);
    const int64_t times = grounding->args->times;

    grounding->round = muta_passage_round(grounding->call->in, MUTA_ZERO, length);
    MUTA_TRY(take_chords(grounding));
    for (int64_t round = 0; round < times; round++)
        MUTA_TRY(add_round(grounding, round));
    for (int64_t round = 0; round < times; round++)
        MUTA_TRY(lay_above(grounding, grounding->call->in, round));
    out->length = muta_fraction_add(round_at(grounding, times - 1), length);
    return muta_passage_set_chords(out, grounding->chords.at, grounding->chords.count);
}

/* ---- over a named ground ---- */

/* All that goes over the ground, but the tune where chains are laid over it. */
static muta_status put_base(struct grounding *grounding, const muta_passage *made)
{
    muta_passage *const out = grounding->call->out;
    const muta_texture work = muta_passage_work(made);
    const muta_line *const tune = muta_texture_tune(&work);
    const bool is_laid_over = grounding->chain_count > 0 && grounding->tune;

    muta_passage_number_behind(out, made);
    MUTA_TRY(muta_passage_begin(out, made));
    for (size_t i = 0; i < work.line_count; i++) {
        const muta_line *const line = &work.lines[i];
        if (is_laid_over && line == tune)
            continue;
        MUTA_TRY(muta_passage_begin_line(out, made, i));
        for (uint32_t j = line->event; j < line->event + line->event_count; j++)
            MUTA_TRY(muta_passage_put_event(out, made, j, work.events[j].onset,
                                            work.events[j].duration));
    }
    return MUTA_OK;
}

/* The row of the time map in which each round begins. */
static muta_status find_rows(struct grounding *grounding)
{
    const muta_passage *const out = grounding->call->out;

    for (int64_t round = 0; round < grounding->args->times; round++) {
        uint32_t *const row = MUTA_PUSH(&grounding->arena, &grounding->rows);
        if (!row)
            return MUTA_E_MEMORY;
        for (uint32_t i = 0; i < out->map.count; i++)
            if (muta_fraction_compare(out->map.at[i].at, round_at(grounding, round)) <= 0)
                *row = i;
    }
    return MUTA_OK;
}

static muta_status put_over(struct grounding *grounding, const muta_passage *made,
                            const muta_historic *historic)
{
    muta_passage *const out = grounding->call->out;

    grounding->rounds = historic->rounds;
    for (size_t i = 0; i < historic->chord_count; i++) {
        muta_passage_chord *const chord = MUTA_PUSH(&grounding->arena, &grounding->chords);
        if (!chord)
            return MUTA_E_MEMORY;
        *chord = historic->chords[i];
    }
    MUTA_TRY(put_base(grounding, made));
    MUTA_TRY(find_rows(grounding));
    for (int64_t round = 0; round < grounding->args->times; round++)
        MUTA_TRY(lay_above(grounding, made, round));
    if (historic->led > 0)
        muta_diag_add(grounding->call->diags, MUTA_NOTE, MUTA_NOWHERE,
                      "%zu of the %zu tones of the tune over the ground are its own",
                      historic->stayed, historic->led);
    out->length = made->length;
    out->says |= MUTA_SAYS_SYMBOLS;
    MUTA_TRY(sign_key(grounding));
    return muta_passage_set_chords(out, grounding->chords.at, grounding->chords.count);
}

static muta_status go_over(struct grounding *grounding)
{
    muta_historic historic = {.call = grounding->call,
                              .ground = &grounding->ground,
                              .times = grounding->args->times,
                              .is_alone = grounding->is_alone};
    muta_passage *made = NULL;

    muta_status status = muta_passage_new_like(grounding->call->in, &made);
    if (status == MUTA_OK)
        status = muta_historic_lay(&historic, made);
    if (status == MUTA_OK)
        status = put_over(grounding, made, &historic);
    muta_passage_free(made);
    muta_historic_clear(&historic);
    return status;
}

/* A named ground under a tune that stands alone is played by a keyboard, its chords with it. */
static muta_status accompany(struct grounding *grounding)
{
    const muta_call *const call = grounding->call;
    muta_call below = *call;
    muta_chain *chain = NULL;
    muta_passage *played = NULL;

    MUTA_TRY(muta_passage_new_like(call->in, &below.out));
    grounding->call = &below;
    muta_status status = go_over(grounding);
    if (status == MUTA_OK)
        status = muta_passage_settle(below.out);
    if (status == MUTA_OK)
        status = muta_chain_parse("realise", &chain, call->diags);
    if (status == MUTA_OK)
        status = apply(grounding, chain, below.out, &played);
    grounding->call = call;
    if (status == MUTA_OK) {
        muta_passage_number_behind(call->out, played);
        status = muta_passage_append(call->out, played, MUTA_ZERO, NULL);
    }
    if (status == MUTA_OK) {
        call->out->length = below.out->length;
        call->out->says |= MUTA_SAYS_SYMBOLS;
        status = sign_key(grounding);
    }
    if (status == MUTA_OK)
        status = muta_passage_set_chords(call->out, grounding->chords.at, grounding->chords.count);
    muta_passage_free(played);
    muta_chain_free(chain);
    muta_passage_free(below.out);
    return status;
}

/* What stands before or between repeats with hardly a tone of the tune: an upbeat, a bar to start
 * with. No ground goes under that. */
static bool is_scrap(const muta_call *call)
{
    enum {
        FEW = 4 /* tones */
    };
    const muta_texture work = muta_passage_work(call->in);
    size_t count = 0;

    for (size_t i = 0; i < work.tone_count; i++)
        count += work.tones[i].is_tune && (!work.tones[i].is_bass || !muta_texture_bass(&work));
    return count < FEW && work.tone_count < call->in->first->tones.count;
}

static muta_status run(const muta_call *call)
{
    struct grounding grounding = {
        .call = call, .args = call->args, .work = muta_passage_work(call->in)};
    const char *const from = grounding.args->from;

    grounding.is_named = muta_ground_find(from, &grounding.ground);
    if (!grounding.is_named && !is_word(from, "bass") && !is_word(from, "chords"))
        return refuse(&grounding);
    if (grounding.work.line_count == 0)
        return MUTA_OK;
    if (grounding.is_named && is_scrap(call))
        return muta_passage_append(call->out, call->in, MUTA_ZERO, NULL);
    grounding.tune = muta_texture_tune(&grounding.work);
    grounding.bass = muta_texture_bass(&grounding.work);
    if (grounding.tune == grounding.bass)
        grounding.tune = NULL;
    grounding.is_alone = grounding.is_named && is_tune_alone(call->in);
    if (grounding.is_alone) {
        grounding.tune = &grounding.work.lines[0];
        grounding.bass = NULL;
    }
    muta_status status = read_chains(&grounding);
    if (status == MUTA_OK)
        status = grounding.is_alone   ? accompany(&grounding)
                 : grounding.is_named ? go_over(&grounding)
                                      : go_round(&grounding);
    for (size_t i = 0; i < grounding.chain_count; i++)
        muta_chain_free(grounding.chains[i]);
    muta_arena_clear(&grounding.arena);
    return status;
}

/* What is laid over a ground that has no tune gets a part, and a named ground under a tune alone.
 */
static bool needs_part(const void *given, const muta_passage *passage)
{
    const struct args *const args = given;
    const muta_texture work = muta_passage_work(passage);
    muta_ground ground;

    return (args->above && muta_texture_tune(&work) == muta_texture_bass(&work)) ||
           (is_lone_tune(passage) && muta_ground_find(args->from, &ground));
}

const muta_pass muta_pass_ground = {
    .name = "ground",
    .group = "harmony",
    .summary = "keeps the bass or the chords and loops them; or brings a historic ground",
    .keeps = "the bass, tone for tone, in each round",
    MUTA_PARAMS(params, struct args),
    .where = MUTA_EVERYTHING,
    .needs = MUTA_NEEDS_PITCH | MUTA_NEEDS_STUDY,
    .effect = MUTA_MOVES_TIME | MUTA_RESTATES | MUTA_CHANGES_LENGTH | MUTA_KEEPS_CHORDS,
    .needs_part = needs_part,
    .run = run,
};
