/* mode.c: re-casts into another mode or scale on the same tonic, degree by degree. */
#include "base/search.h"
#include "passes/pass.h"
#include "score/texture.h"
#include "theory/scale.h"
#include "theory/table.h"
#include <stdlib.h>
#include <string.h>

struct args {
    const char *to;
    const char *tonic;
};

static const muta_param params[] = {
    MUTA_ARG_TEXT(struct args, to,
                  "the scale: a church mode, major, natural-, harmonic- or melodic-minor, "
                  "pentatonic, whole-tone, octatonic, a raga; without it harmonic-minor from "
                  "major, major from minor"),
    MUTA_ARG_TEXT(struct args, tonic, "another tonic, as Bb; without it the tonic stays"),
};

enum {
    NEAR = 3, /* semitones: how far a tone without a degree of its own is looked for */
    CANDIDATES = 8
};

/* Prices, in thousandths. */
enum {
    MOVED = 100,      /* a semitone from where the tone was, where its degree is missing */
    OTHER_WAY = 2000, /* the line turns where it did not */
    PARTED = 8000,    /* a tone that was repeated is another */
    STANDS = 700,     /* two tones that differed are one */
    WRONG_WAY = 3000, /* a tone of the other way */
    RESTED = -150     /* a long tone on one that rests */
};

/* A tone of a strand, and what it may become. */
struct site {
    const muta_tone *tone;
    bool is_long;
    muta_pitch pitches[CANDIDATES];
    const muta_scale_tone *members[CANDIDATES]; /* NULL: outside the scale */
    uint32_t count;
};

struct recasting {
    const muta_call *call;
    muta_arena arena;
    muta_scale given;
    bool is_given;
    muta_scale from_major; /* the defaults */
    muta_scale from_minor;
    muta_scale major;
    muta_scale minor;
    MUTA_VEC(struct site) sites;
    muta_interval moved; /* to another tonic */
};

/* ---- candidates ---- */

static bool is_minor(muta_mode mode)
{
    return mode == MUTA_MINOR || mode == MUTA_AEOLIAN || mode == MUTA_DORIAN ||
           mode == MUTA_PHRYGIAN;
}

static const muta_scale *target(const struct recasting *work, muta_mode mode)
{
    return work->is_given ? &work->given : is_minor(mode) ? &work->from_minor : &work->from_major;
}

/* The octave of a tonic that lies at or below a pitch, by its place. */
static muta_pitch tonic_below(muta_pitch tonic, muta_pitch pitch)
{
    const int32_t octaves = pitch.place - tonic.place;

    tonic.place += 7 * (octaves >= 0 ? octaves / 7 : -((6 - octaves) / 7));
    return tonic;
}

static void add(struct site *site, muta_pitch pitch, const muta_scale_tone *member)
{
    if (site->count == CANDIDATES)
        return;
    site->pitches[site->count] = pitch;
    site->members[site->count++] = member;
}

/* The tones of the scale near one whose degree it does not have. */
static void add_near(struct site *site, const muta_scale *scale, muta_pitch tonic)
{
    for (int32_t octave = -1; octave <= 1; octave++)
        for (size_t i = 0; i < scale->count; i++) {
            muta_pitch pitch = muta_pitch_add(tonic, muta_scale_interval(&scale->tones[i]));
            pitch.place += 7 * octave;
            if (abs(muta_pitch_sound(pitch) - muta_pitch_sound(site->tone->pitch)) <=
                NEAR * MUTA_SEMITONE)
                add(site, pitch, &scale->tones[i]);
        }
}

/* What a tone may become: what its degree is in the new scale, or what is near. */
static void find_candidates(struct recasting *work, struct site *site, muta_fraction at)
{
    const muta_key key = muta_passage_key_at(work->call->in, site->tone, at);
    const muta_scale *const to = target(work, key.mode);
    const muta_pitch tonic = tonic_below(muta_key_tonic(key), site->tone->pitch);
    const muta_scale_tone *members[2];
    muta_interval becomes[2];
    const size_t count =
        muta_scale_recast(is_minor(key.mode) ? &work->minor : &work->major, to,
                          muta_pitch_between(tonic, site->tone->pitch), becomes, members);

    for (size_t i = 0; i < count; i++)
        add(site, muta_pitch_add(tonic, becomes[i]), members[i]);
    if (count == 0)
        add_near(site, to, tonic);
    if (site->count == 0)
        add(site, site->tone->pitch, NULL);
}

/* ---- the search ---- */

static uint32_t count_candidates(void *context, size_t step)
{
    return ((struct recasting *)context)->sites.at[step].count;
}

static int sign_of(int32_t number)
{
    return (number > 0) - (number < 0);
}

/* Whether a tone of the scale belongs to the way that is gone; others always do. */
static bool goes(const muta_scale_tone *member, int way)
{
    return !member || way == 0 || (way > 0 ? member->goes_up : member->goes_down);
}

/*
 * Which form of a tone of the minor its neighbour asks for: the seventh that goes up to the tonic,
 * or stands with the dominant's other tones, is raised, and the sixth that goes up to it; all
 * others are not.
 */
static int form_beside(const muta_scale_tone *member, const muta_scale_tone *other, bool is_next,
                       bool is_step)
{
    if (!member || !other)
        return 0;
    if (member->degree == 6)
        return (is_step && is_next && other->degree == 0) ||
                       (!is_step && (other->degree == 4 || other->degree == 1))
                   ? 1
                   : -1;
    return member->degree == 5 ? (is_step && is_next && other->degree == 6 ? 1 : -1) : 0;
}

/* What two tones of the scale cost beside each other, one way or the other. */
static int64_t price_ways(const struct recasting *work, const muta_scale_tone *from,
                          const muta_scale_tone *to, int32_t by)
{
    const int way = sign_of(by);
    const bool is_step = by != 0 && abs(by) <= NEAR * MUTA_SEMITONE;
    int64_t price = 0;

    if (!work->is_given || !work->given.has_signature)
        return (goes(to, way) ? 0 : WRONG_WAY) + (goes(from, way) ? 0 : WRONG_WAY / 2);
    const int asked = form_beside(from, to, true, is_step);
    price += goes(from, asked) ? 0 : asked > 0 ? 2 * WRONG_WAY : WRONG_WAY / 2;
    const int beside = form_beside(to, from, false, is_step);
    return price + (goes(to, beside) ? 0 : beside > 0 ? WRONG_WAY : WRONG_WAY / 2);
}

static int64_t price(void *context, size_t step, uint32_t from, uint32_t to)
{
    const struct recasting *const work = context;
    const struct site *const here = &work->sites.at[step];
    const int32_t sound = muta_pitch_sound(here->pitches[to]);
    const muta_scale_tone *const member = here->members[to];
    const int32_t away = abs(sound - muta_pitch_sound(here->tone->pitch)) / MUTA_SEMITONE;
    int64_t price = here->count > 1 && !(work->is_given && work->given.has_signature)
                        ? (int64_t)away * MOVED
                        : 0;

    price += here->is_long && member && member->rests ? RESTED : 0;
    if (from == MUTA_NO_CANDIDATE)
        return price;
    const struct site *const before = here - 1;
    const int32_t was = muta_pitch_sound(here->tone->pitch) - muta_pitch_sound(before->tone->pitch);
    const int32_t is = sound - muta_pitch_sound(before->pitches[from]);
    price += sign_of(is) == sign_of(was) ? 0
             : sign_of(was) == 0         ? PARTED
             : sign_of(is) == 0          ? STANDS
                                         : OTHER_WAY;
    return price + price_ways(work, before->members[from], member, is);
}

static muta_status recast_strand(struct recasting *work)
{
    const muta_search search = {work, work->sites.count, count_candidates, price};
    muta_answer answer;
    size_t found = 0;

    MUTA_TRY(muta_search_best(&work->arena, &search, 1, &answer, &found));
    for (size_t i = 0; found > 0 && i < work->sites.count; i++) {
        struct site *const site = &work->sites.at[i];
        muta_tone *const tone = &muta_passage_tones(
            work->call->out)[site->tone - muta_passage_work(work->call->in).tones];
        muta_passage_set_pitch(work->call->out, tone,
                               muta_pitch_add(site->pitches[answer.taken[i]], work->moved));
    }
    return MUTA_OK;
}

/* The nth tones of a line's events, from the top. */
static muta_status find_strand(struct recasting *work, const muta_line *line, uint32_t nth)
{
    const muta_texture texture = muta_passage_work(work->call->in);

    work->sites.count = 0;
    for (uint32_t i = line->event; i < line->event + line->event_count; i++) {
        const muta_event *const event = &texture.events[i];
        if (nth >= event->tone_count)
            continue;
        const muta_tone *const tone = &texture.tones[event->tone + event->tone_count - 1 - nth];
        if (tone->is_fixed)
            continue;
        struct site *const site = MUTA_PUSH(&work->arena, &work->sites);
        if (!site)
            return MUTA_E_MEMORY;
        *site =
            (struct site){.tone = tone, .is_long = event->duration.top >= event->duration.bottom};
        find_candidates(work, site, event->onset);
    }
    return MUTA_OK;
}

static muta_status recast_line(struct recasting *work, const muta_line *line)
{
    for (uint32_t nth = 0;; nth++) {
        MUTA_TRY(find_strand(work, line, nth));
        if (work->sites.count == 0)
            return MUTA_OK;
        MUTA_TRY(recast_strand(work));
    }
}

/* ---- what is asked for ---- */

static muta_status read_tonic(struct recasting *work)
{
    const struct args *args = work->call->args;
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

static muta_status read_scales(struct recasting *work)
{
    const struct args *args = work->call->args;
    char name[32];

    (void)muta_scale_find("major", &work->major);
    (void)muta_scale_find("natural-minor", &work->minor);
    (void)muta_scale_find("harmonic-minor", &work->from_major);
    (void)muta_scale_find("major", &work->from_minor);
    work->is_given = args->to;
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
static muta_status recast_keys(const struct recasting *work)
{
    muta_key key = {0, MUTA_MAJOR};

    (void)muta_passage_key(work->call->in, &key);
    const muta_scale *const scale = target(work, key.mode);
    if (scale->has_signature)
        MUTA_TRY(
            muta_passage_recast_keys(work->call->out, scale, work->call->keys, work->call->diags));
    return work->moved.steps || work->moved.size
               ? muta_passage_move_keys(work->call->out, work->moved, work->call->keys,
                                        work->call->diags)
               : MUTA_OK;
}

static muta_status recast(struct recasting *work)
{
    const muta_texture texture = muta_passage_work(work->call->in);

    MUTA_TRY(read_scales(work));
    MUTA_TRY(muta_passage_append(work->call->out, work->call->in, MUTA_ZERO, NULL));
    for (size_t i = 0; i < texture.line_count; i++)
        MUTA_TRY(recast_line(work, &texture.lines[i]));
    return recast_keys(work);
}

static muta_status run(const muta_call *call)
{
    struct recasting work = {.call = call};
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
    MUTA_PARAMS(params, struct args),
    .needs = MUTA_NEEDS_PITCH,
    .effect = MUTA_MOVES_KEYS,
    .answer = MUTA_MAY_FIND_NOTHING,
    .needs_mode = needs_mode,
    .run = run,
};
