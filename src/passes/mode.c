/* mode.c: re-casts into another mode or scale on the same tonic, degree by degree. */
#include "base/search.h"
#include "passes/recasting.h"
#include "theory/table.h"
#include <stdlib.h>
#include <string.h>

static const muta_param params[] = {
    MUTA_ARG_TEXT(struct muta_mode_args, to,
                  "the scale: a church mode, major, natural-, harmonic- or melodic-minor, "
                  "pentatonic, whole-tone, octatonic, a raga; without it minor, its sixth and "
                  "seventh as the chord and the line want them, from major, and major from minor"),
    MUTA_ARG_TEXT(struct muta_mode_args, tonic, "another tonic, as Bb; without it the tonic stays"),
};

enum {
    NEAR = 3, /* semitones: how far a tone without a degree of its own is looked for */
    CANDIDATES = 12,
    ROUNDS = 2
};

/* Prices, in thousandths. */
enum {
    MOVED = 100,   /* a semitone from where the tone was, where its degree is missing */
    RESTED = -150, /* a long tone on one that rests */
    ALTERED = 300, /* a semitone between what a foreign tone becomes and what its degree says */
    PULL = 3500,   /* a foreign tone that was a semitone below where it goes, and is not */
    DOUBLE_SIGN = 6000,
    LEFT = 5000,   /* a tone of the key that stays as it was */
    UNLIKE = 4500, /* it sounds with what was its own letter, which becomes something else */
};

/* What a tone of the strand may become. */
struct choice {
    struct muta_mode_form forms[CANDIDATES];
    uint32_t count;
};

/* A strand, and what its tones may become. */
struct strand {
    const struct muta_recasting *work;
    const struct muta_mode_site *sites;
    const struct choice *choices;
    size_t count;
};

/* ---- candidates ---- */

static void add(struct choice *choice, const muta_tone *tone, struct muta_mode_form form)
{
    for (uint32_t i = 0; i < choice->count; i++)
        if (muta_pitch_is_equal(choice->forms[i].pitch, form.pitch))
            return;
    if (choice->count == CANDIDATES)
        return;
    if (abs(form.pitch.alter) >= 2 * MUTA_SEMITONE &&
        abs(tone->pitch.alter) < abs(form.pitch.alter))
        form.price += DOUBLE_SIGN;
    choice->forms[choice->count++] = form;
}

/* The tones of the scale near one whose degree it does not have. */
static void add_near(struct choice *choice, const muta_tone *tone, const muta_scale *scale,
                     muta_pitch tonic)
{
    for (int32_t octave = -1; octave <= 1; octave++)
        for (size_t i = 0; i < scale->count; i++) {
            muta_pitch pitch = muta_pitch_add(tonic, muta_scale_interval(&scale->tones[i]));
            pitch.place += 7 * octave;
            if (abs(muta_pitch_sound(pitch) - muta_pitch_sound(tone->pitch)) <=
                NEAR * MUTA_SEMITONE)
                add(choice, tone, (struct muta_mode_form){pitch, &scale->tones[i], 0});
        }
}

/* A pitch, and those a semitone to either side, which cost something. */
static void add_around(struct choice *choice, const muta_tone *tone)
{
    for (int32_t by = -1; by <= 1; by++) {
        muta_pitch pitch = tone->pitch;
        pitch.alter += by * MUTA_SEMITONE;
        add(choice, tone, (struct muta_mode_form){pitch, NULL, (int64_t)ALTERED * abs(by)});
    }
}

/* What its degree is in the new scale; or what is near. */
static void add_degree(const struct muta_recasting *work, const struct muta_mode_site *site,
                       const struct muta_mode_local *local, struct choice *choice)
{
    const muta_tone *const tone = site->tone;
    const muta_interval above = muta_key_above(local->key, tone->pitch);
    const muta_pitch tonic =
        muta_pitch_add(tone->pitch, (muta_interval){-above.steps, -above.size});
    const muta_scale_tone *members[2];
    muta_interval becomes[2];
    const size_t count = muta_scale_recast(muta_mode_own_scale(work, local->key), local->to, above,
                                           becomes, members);

    for (size_t i = 0; i < count; i++)
        add(choice, tone,
            (struct muta_mode_form){muta_pitch_add(muta_pitch_add(tonic, becomes[i]), local->moved),
                                    members[i], site->is_foreign && work->is_other ? ALTERED : 0});
    if (count == 0)
        add_near(choice, tone, local->to, tonic);
}

static struct muta_mode_local local_of(const struct muta_recasting *work,
                                       const struct muta_mode_site *site)
{
    const muta_fraction at = muta_passage_work(work->call->in).events[site->tone->event].onset;

    if (site->chord)
        return site->chord->local;
    const muta_key key = muta_passage_key_at(work->call->in, site->tone, at);
    return (struct muta_mode_local){
        .key = key, .to = muta_mode_target(work, key.mode), .stays = muta_mode_is_there(work, key)};
}

/* Whether a degree is the same in major and minor. */
static bool keeps_place(const struct muta_mode_site *site)
{
    return !site->is_foreign && site->degree != 2 && site->degree < 5;
}

/* In a broken chord the tone that a foreign one leads to is the next but one. */
static void pull(const struct muta_mode_site *site, const struct muta_mode_site *end,
                 struct choice *choice)
{
    const struct muta_mode_site *const goal = site + 2;

    if (!site->is_foreign || goal >= end || goal[-1].is_first || goal->is_first ||
        (goal->nth < 0 && !keeps_place(goal)) ||
        muta_pitch_sound(goal->tone->pitch) - muta_pitch_sound(site->tone->pitch) != MUTA_SEMITONE)
        return;
    const struct muta_mode_form form =
        goal->nth < 0
            ? (struct muta_mode_form){goal->tone->pitch, NULL, 0}
            : muta_mode_form_of(goal->chord, goal->tone->pitch, goal->nth, goal->chord->taken);
    for (uint32_t i = 0; i < choice->count; i++)
        if (muta_pitch_sound(form.pitch) - muta_pitch_sound(choice->forms[i].pitch) !=
            MUTA_SEMITONE)
            choice->forms[i].price += PULL;
}

/* The decided tone of an event that was what this one was, whatever its octave; NULL: none. */
static const muta_tone *find_like(const struct muta_recasting *work, const muta_event *event,
                                  const muta_tone *tone)
{
    const muta_texture texture = muta_passage_work(work->call->in);

    for (uint32_t i = event->tone; i < event->tone + event->tone_count; i++) {
        const muta_tone *const other = &texture.tones[i];
        if (other != tone && work->decided[i] && other->pitch.alter == tone->pitch.alter &&
            muta_pitch_step(other->pitch) == muta_pitch_step(tone->pitch))
            return other;
    }
    return NULL;
}

/* Makes dearer what a tone may become, where that is something else than what became of another. */
static void part_from(const struct muta_recasting *work, const muta_tone *other,
                      struct choice *choice)
{
    const muta_pitch is = muta_counterpart(work->call, other)->pitch;

    for (uint32_t i = 0; i < choice->count; i++) {
        const muta_pitch form = muta_pitch_add(choice->forms[i].pitch, work->moved);
        if (form.alter != is.alter || muta_pitch_step(form) != muta_pitch_step(is))
            choice->forms[i].price += UNLIKE;
    }
}

/* What several voices have as one letter, together or within half a quarter, does not part. */
static void stay_alike(const struct muta_recasting *work, const struct muta_mode_site *site,
                       struct choice *choice)
{
    const muta_texture texture = muta_passage_work(work->call->in);
    const muta_event *const event = &texture.events[site->tone->event];
    const muta_fraction near = muta_fraction_of(1, 2);
    const muta_fraction from = muta_fraction_subtract(event->onset, near);
    const muta_fraction to =
        muta_fraction_add(muta_fraction_add(event->onset, event->duration), near);

    for (size_t i = 0; i < texture.line_count; i++) {
        const muta_line *const line = &texture.lines[i];
        uint32_t at = muta_line_first_from(texture.events, line, from);
        at -= at > line->event; /* what began before may sound still */
        for (; at < line->event + line->event_count && i != site->tone->line; at++) {
            const muta_event *const with = &texture.events[at];
            if (muta_fraction_compare(with->onset, to) >= 0)
                break;
            const bool sounds =
                muta_fraction_compare(muta_fraction_add(with->onset, with->duration), from) > 0;
            const muta_tone *const other = sounds ? find_like(work, with, site->tone) : NULL;
            if (other)
                part_from(work, other, choice);
        }
    }
}

/* What a tone may become: of its chord, what that was decided to be. */
static void find_choice(const struct muta_recasting *work, const struct muta_mode_site *site,
                        struct choice *choice)
{
    const muta_tone *const tone = site->tone;
    const struct muta_mode_local local = local_of(work, site);
    const muta_pitch moved = muta_pitch_add(tone->pitch, local.moved);

    choice->count = 0;
    if (site->nth >= 0) {
        add(choice, tone,
            muta_mode_form_of(site->chord, tone->pitch, site->nth, site->chord->taken));
        return;
    }
    if (local.stays) {
        add(choice, tone, (struct muta_mode_form){moved, NULL, 0});
        return;
    }
    add_degree(work, site, &local, choice);
    if (choice->count == 0)
        add(choice, tone, (struct muta_mode_form){tone->pitch, NULL, 0});
    if (!work->is_other)
        return;
    /* It may stay, or go with the tone that it leans on. */
    if (site->is_foreign)
        add_around(choice, tone);
    else
        add(choice, tone, (struct muta_mode_form){tone->pitch, NULL, LEFT});
}

/* ---- strands ---- */

static uint32_t count_forms(void *context, size_t step)
{
    return ((struct strand *)context)->choices[step].count;
}

static int64_t price(void *context, size_t step, uint32_t from, uint32_t to)
{
    const struct strand *const strand = context;
    const struct muta_recasting *const work = strand->work;
    const struct muta_mode_site *const here = &strand->sites[step];
    const struct choice *const choice = &strand->choices[step];
    const struct muta_mode_form *const form = &choice->forms[to];
    const int32_t away =
        abs(muta_pitch_sound(form->pitch) - muta_pitch_sound(here->tone->pitch)) / MUTA_SEMITONE;
    const bool has_forms = work->is_other || (work->is_given && work->given.has_signature);
    int64_t price = form->price;

    price += choice->count > 1 && !has_forms ? (int64_t)away * MOVED : 0;
    price += here->is_long && form->member && form->member->rests ? RESTED : 0;
    if (here->is_practice)
        price += muta_mode_price_practice(form->member, here->is_dominant);
    if (from == MUTA_NO_CANDIDATE)
        return price;
    return price +
           muta_mode_price_step(work, here - 1, &strand->choices[step - 1].forms[from], here, form);
}

static void become(struct muta_recasting *work, const struct muta_mode_site *site,
                   const struct muta_mode_form *form)
{
    muta_passage_set_pitch(work->call->out, muta_counterpart(work->call, site->tone),
                           muta_pitch_add(form->pitch, work->moved));
    work->decided[site->tone - muta_passage_work(work->call->in).tones] = true;
}

static muta_status recast_strand(struct muta_recasting *work, size_t first, size_t count)
{
    muta_arena arena = {0};
    struct choice *const choices = muta_arena_take_array(&arena, count, sizeof *choices);
    struct strand strand = {work, &work->sites.at[first], choices, count};
    const muta_search search = {&strand, count, count_forms, price};
    muta_answer answer;
    size_t found = 0;
    muta_status status = MUTA_E_MEMORY;

    for (size_t i = 0; choices && i < count; i++)
        find_choice(work, &strand.sites[i], &choices[i]);
    for (size_t i = 0; choices && i < count; i++) {
        pull(&strand.sites[i], &strand.sites[count], &choices[i]);
        if (choices[i].count > 1 && !work->is_given)
            stay_alike(work, &strand.sites[i], &choices[i]);
    }
    if (choices)
        status = muta_search_best(&arena, &search, 1, &answer, &found);
    for (size_t i = 0; status == MUTA_OK && found > 0 && i < count; i++)
        become(work, &strand.sites[i], &choices[i].forms[answer.taken[i]]);
    muta_arena_clear(&arena);
    return status;
}

static muta_status recast_strands(struct muta_recasting *work)
{
    const size_t count = muta_passage_work(work->call->in).tone_count;
    size_t end = 0;

    work->decided = muta_arena_take_array(&work->arena, count + 1, sizeof *work->decided);
    if (!work->decided)
        return MUTA_E_MEMORY;
    for (size_t i = 0; i < work->sites.count; i++) {
        const struct muta_mode_site *const site = &work->sites.at[i];
        if (site->nth >= 0) {
            const struct muta_mode_form form =
                muta_mode_form_of(site->chord, site->tone->pitch, site->nth, site->chord->taken);
            become(work, site, &form);
        }
    }
    /* Once more, when each knows what the others have become. */
    for (size_t round = 0; round < (work->is_given ? 1 : ROUNDS); round++)
        for (size_t first = 0; first < work->sites.count; first = end) {
            for (end = first + 1; end < work->sites.count && !work->sites.at[end].is_first;)
                end++;
            MUTA_TRY(recast_strand(work, first, end - first));
        }
    return MUTA_OK;
}

/* ---- sites ---- */

static void read_site(const struct muta_recasting *work, struct muta_mode_site *site)
{
    const muta_event *const event = &muta_passage_work(work->call->in).events[site->tone->event];
    site->chord = muta_mode_chord_at(work, event->onset);
    site->nth = -1;
    if (site->chord)
        site->nth = muta_mode_nth(work, site->chord, site->tone->pitch);
    const struct muta_mode_local local = local_of(work, site);
    site->is_long = event->duration.top >= event->duration.bottom;
    const muta_interval above = muta_key_above(local.key, site->tone->pitch);
    site->degree = (int8_t)above.steps;
    site->is_foreign = !muta_mode_is_own(muta_mode_own_scale(work, local.key), above);
    site->is_dominant = site->chord && site->chord->is_dominant;
    site->is_practice = work->is_other && local.to->mode == MUTA_MINOR && !local.stays;
}

/* Finds the nth tones of a line's events, from the top. @param found  [out] whether there are any
 */
static muta_status find_strand(struct muta_recasting *work, const muta_line *line, uint32_t nth,
                               bool *found)
{
    const muta_texture texture = muta_passage_work(work->call->in);

    *found = false;
    for (uint32_t i = line->event; i < line->event + line->event_count; i++) {
        const muta_event *const event = &texture.events[i];
        if (nth >= event->tone_count)
            continue;
        const muta_tone *const tone = &texture.tones[event->tone + event->tone_count - 1 - nth];
        if (tone->is_fixed)
            continue;
        struct muta_mode_site *const site = MUTA_PUSH(&work->arena, &work->sites);
        if (!site)
            return MUTA_E_MEMORY;
        *site = (struct muta_mode_site){.tone = tone, .is_first = !*found};
        read_site(work, site);
        *found = true;
    }
    return MUTA_OK;
}

static muta_status find_strands(struct muta_recasting *work)
{
    const muta_texture texture = muta_passage_work(work->call->in);

    for (size_t i = 0; i < texture.line_count; i++) {
        bool found = true;
        for (uint32_t nth = 0; found; nth++)
            MUTA_TRY(find_strand(work, &texture.lines[i], nth, &found));
    }
    return MUTA_OK;
}

/* ---- what is asked for ---- */

static muta_status read_tonic(struct muta_recasting *work)
{
    const struct muta_mode_args *args = work->call->args;
    muta_key from = {0, MUTA_MAJOR};
    muta_key to;

    if (!args->tonic)
        return MUTA_OK;
    if (muta_key_parse(args->tonic, &to) != MUTA_OK) {
        muta_diag_add(work->call->diags, MUTA_ERROR, MUTA_NOWHERE,
                      "tonic=%.60s is no tonic; write it as Bb or F#", args->tonic);
        return MUTA_E_USAGE;
    }
    (void)muta_passage_key(work->call->in, &from);
    from.fifths -= muta_interval_fifths(muta_pitch_between(
        muta_key_tonic((muta_key){0, MUTA_MAJOR}), muta_key_tonic((muta_key){0, from.mode})));
    work->moved = muta_key_between((muta_key){from.fifths, MUTA_MAJOR}, to);
    return MUTA_OK;
}

static muta_status read_scales(struct muta_recasting *work)
{
    const struct muta_mode_args *args = work->call->args;
    char name[32];

    (void)muta_scale_find("major", &work->major);
    (void)muta_scale_find("natural-minor", &work->minor);
    (void)muta_scale_find("minor", &work->from_major);
    (void)muta_scale_find("major", &work->from_minor);
    work->is_given = args->to;
    work->is_other = !args->to || strcmp(args->to, "minor") == 0 || strcmp(args->to, "major") == 0;
    if (!args->to || muta_scale_find(args->to, &work->given))
        return read_tonic(work);
    const char *const nearest = muta_table_nearest(muta_table_scales, args->to, name);
    if (nearest)
        muta_diag_add(work->call->diags, MUTA_ERROR, MUTA_NOWHERE,
                      "there is no scale \"%.60s\"; did you mean \"%s\"?", args->to, nearest);
    else
        muta_diag_add(work->call->diags, MUTA_ERROR, MUTA_NOWHERE,
                      "there is no scale \"%.60s\"; there are the church modes, major, minors, "
                      "pentatonics, whole-tone, octatonic and ragas",
                      args->to);
    return MUTA_E_USAGE;
}

/* The signatures of the new scale, and of the new tonic. */
static muta_status recast_keys(const struct muta_recasting *work)
{
    muta_key key = {0, MUTA_MAJOR};

    (void)muta_passage_key(work->call->in, &key);
    const muta_scale *const scale = muta_mode_target(work, key.mode);
    if (scale->has_signature)
        MUTA_TRY(
            muta_passage_recast_keys(work->call->out, scale, work->call->keys, work->call->diags));
    return work->moved.steps || work->moved.size
               ? muta_passage_move_keys(work->call->out, work->moved, work->call->keys,
                                        work->call->diags)
               : MUTA_OK;
}

static muta_status recast(struct muta_recasting *work)
{
    MUTA_TRY(read_scales(work));
    MUTA_TRY(muta_passage_append(work->call->out, work->call->in, MUTA_ZERO, NULL));
    MUTA_TRY(muta_mode_read_chords(work));
    MUTA_TRY(find_strands(work));
    MUTA_TRY(muta_mode_decide(work));
    for (size_t i = 0; i < work->sites.count; i++)
        if (work->sites.at[i].chord && muta_mode_is_pivoted(work->sites.at[i].chord))
            read_site(work, &work->sites.at[i]);
    MUTA_TRY(recast_strands(work));
    MUTA_TRY(recast_keys(work));
    return work->call->out->keys_recast ? muta_mode_write_chords(work) : MUTA_OK;
}

static muta_status run(const muta_call *call)
{
    struct muta_recasting work = {.call = call};
    const muta_status status = recast(&work);

    muta_arena_clear(&work.arena);
    return status;
}

/* Degrees are reckoned in the key that is heard. */
static bool needs_mode(const void *args)
{
    (void)args;
    return true;
}

const muta_pass muta_pass_mode = {
    .name = "mode",
    .group = "pitch",
    .summary = "re-casts into another mode or scale",
    .keeps = "rhythm, the tonic, the degrees; what was altered keeps its alteration",
    MUTA_PARAMS(params, struct muta_mode_args),
    .needs = MUTA_NEEDS_PITCH | MUTA_NEEDS_STUDY,
    .effect = MUTA_MOVES_KEYS,
    .answer = MUTA_MAY_FIND_NOTHING,
    .needs_mode = needs_mode,
    .run = run,
};
