/* mode.c: re-casts into another mode or scale on the same tonic, degree by degree. */
#include "base/search.h"
#include "passes/pass.h"
#include "score/texture.h"
#include "theory/recast.h"
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
                  "pentatonic, whole-tone, octatonic, a raga; without it minor, its sixth and "
                  "seventh as the chord and the line want them, from major, and major from minor"),
    MUTA_ARG_TEXT(struct args, tonic, "another tonic, as Bb; without it the tonic stays"),
};

enum {
    NEAR = 3, /* semitones: how far a tone without a degree of its own is looked for */
    CANDIDATES = 12
};

/* Prices, in thousandths. */
enum {
    MOVED = 100,      /* a semitone from where the tone was, where its degree is missing */
    OTHER_WAY = 2000, /* the line turns where it did not */
    PARTED = 8000,    /* a tone that was repeated is another */
    STANDS = 9000,    /* two tones that differed are one */
    STANDS_IN = 700,  /* the same in a scale that has not every degree */
    WRONG_WAY = 3000, /* a tone of the other way */
    RESTED = -150,    /* a long tone on one that rests */
    AUGMENTED = 7000, /* an augmented step that was none */
    PULL = 3500,      /* a chromatic tone that was a semitone from its neighbour, and is not */
    ALTERED = 300,    /* a semitone between what a foreign tone becomes and what its degree says */
    DOUBLE_SIGN = 6000,
    APART = 3000, /* a tone of a foreign chord that parts from it */
    ALONE = 8000, /* a tone of a chord of the key that stays while the others go */
    LEFT = 5000   /* a tone of the key that stays as it was */
};

/* A tone of a strand, and what it may become. */
struct site {
    const muta_tone *tone;
    bool is_long;
    muta_pitch pitches[CANDIDATES];
    const muta_scale_tone *members[CANDIDATES]; /* NULL: outside the scale */
    int64_t prices[CANDIDATES];                 /* of their own */
    uint32_t count;
    bool is_foreign;  /* to its key */
    bool is_dominant; /* its chord has the leading tone */
    bool is_practice; /* the target is the minor of practice */
};

struct recasting {
    const muta_call *call;
    muta_arena arena;
    muta_scale given;
    bool is_given;
    bool is_other; /* the target is the other of major and minor, and each key has its own */
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

static void add(struct site *site, muta_pitch pitch, const muta_scale_tone *member, int64_t price)
{
    for (uint32_t i = 0; i < site->count; i++)
        if (muta_pitch_is_equal(site->pitches[i], pitch))
            return;
    if (site->count == CANDIDATES)
        return;
    if (abs(pitch.alter) >= 2 * MUTA_SEMITONE && abs(site->tone->pitch.alter) < abs(pitch.alter))
        price += DOUBLE_SIGN;
    site->pitches[site->count] = pitch;
    site->prices[site->count] = price;
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
                add(site, pitch, &scale->tones[i], 0);
        }
}

/* Whether a tone is one of the key's: in minor with the raised sixth and seventh. */
static bool is_own(const muta_scale *scale, muta_interval above)
{
    const int semitones = above.size / MUTA_SEMITONE;

    return muta_scale_tone_at(scale, above.steps, semitones) ||
           (scale->mode == MUTA_MINOR && above.steps >= 5 &&
            muta_scale_tone_at(scale, above.steps, semitones - 1));
}

/* The key in which a tone is heard, and what becomes of its tonic. */
struct local {
    muta_key key;
    const muta_scale *to;
    muta_interval moved; /* of the tonic, as the home key has its degree */
    bool stays;          /* but for that: its mode is the one that its degree has in the new key */
};

static muta_interval above_tonic(muta_key key, muta_pitch pitch)
{
    return muta_pitch_between(tonic_below(muta_key_tonic(key), pitch), pitch);
}

static const muta_scale *own_scale(const struct recasting *work, muta_key key)
{
    return is_minor(key.mode) ? &work->minor : &work->major;
}

/* By how many semitones a place on the line of fifths moves with its degree. */
static int32_t shift_of(const struct recasting *work, const struct local *local, int32_t fifths)
{
    const muta_recast recast = {.from = *own_scale(work, local->key),
                                .to = *local->to,
                                .tonic = muta_pitch_fifths(muta_key_tonic(local->key))};

    return (muta_recast_class(&recast, fifths) - fifths) / 7;
}

static bool is_same_key(const muta_passage_chord *a, const muta_passage_chord *b)
{
    return a->tonic == b->tonic && a->is_minor == b->is_minor;
}

/* Whether a key is more than passed through: it lasts two bars of four, or as long. */
static bool is_settled(const muta_passage *in, const muta_passage_chord *chord)
{
    const muta_passage_chord *const end = in->chords + in->chord_count;
    const muta_passage_chord *first = chord;
    const muta_passage_chord *last = chord;
    bool grows = true;

    while (grows && muta_fraction_compare(muta_fraction_subtract(last->to, first->from),
                                          muta_fraction_of(8, 1)) < 0) {
        const bool before = first > in->chords && is_same_key(first - 1, chord);
        const bool behind = last + 1 < end && is_same_key(last + 1, chord);
        first -= before;
        last += behind;
        grows = before || behind;
    }
    return grows;
}

/*
 * A key on the way has the mode that its degree has in the new key: from C major to C minor a
 * passage on the sixth degree, in A minor, goes to A flat major, one on the dominant to G minor,
 * one on the second stays in D minor; what is on the home tonic in the other mode stays there.
 * Where what is heard is not sure, and for other scales, the signature's key counts. Source: common
 * practice.
 */
static struct local local_of(const struct recasting *work, muta_key home,
                             const muta_passage_chord *chord)
{
    static const bool is_minor_on[2][7] = {{false, true, true, false, false, true, true},
                                           {true, true, false, true, true, false, false}};
    struct local local = {.key = home, .to = target(work, home.mode), .moved = {0, 0}};

    if (!work->is_other || !chord || !chord->is_sure || !is_settled(work->call->in, chord))
        return local;
    const muta_pitch tonic = muta_fifths_pitch(chord->tonic, 5);
    const muta_interval above = above_tonic(home, tonic);
    const bool is_own_degree = is_own(own_scale(work, home), above) && above.steps < 6;
    if (!is_own_degree || (above.steps == 0 && chord->is_minor == is_minor(home.mode)))
        return local;
    const int32_t moved = shift_of(work, &local, chord->tonic);
    const bool becomes_minor = is_minor_on[!is_minor(home.mode)][above.steps];
    local.stays = above.steps == 0 || becomes_minor == chord->is_minor;
    local.moved.size = moved * MUTA_SEMITONE;
    local.key = (muta_key){chord->tonic - (chord->is_minor ? 3 : 0),
                           chord->is_minor ? MUTA_MINOR : MUTA_MAJOR};
    local.to = chord->is_minor ? &work->from_minor : &work->from_major;
    return local;
}

/* ---- chords ---- */

/* Whether all tones of a chord are the key's. */
static bool is_of_key(const struct recasting *work, const struct local *local,
                      const muta_passage_chord *chord)
{
    const muta_chord_row *const row = muta_chord_row_of(chord->value.kind);

    for (uint8_t i = 0; i < row->count; i++)
        if (!is_own(
                own_scale(work, local->key),
                above_tonic(local->key, muta_fifths_pitch(chord->value.root + row->fifths[i], 5))))
            return false;
    return true;
}

/*
 * A foreign chord is one thing: it stays as it is, or goes whole with the chord that it leads to,
 * as the dominant of the sixth degree does. By how many semitones.
 */
static int32_t shift_of_chord(const struct recasting *work, const struct local *local,
                              const muta_passage_chord *chord)
{
    const muta_passage *const in = work->call->in;
    const muta_passage_chord *const next =
        chord + 1 < in->chords + in->chord_count ? chord + 1 : NULL;
    int up = 0;

    if (!next)
        return 0;
    up = muta_semitones_class(muta_fifths_class(next->value.root) -
                              muta_fifths_class(chord->value.root));
    return muta_chord_leads(chord->value.kind, up) ? shift_of(work, local, next->value.root) : 0;
}

static muta_pitch altered(muta_pitch pitch, int32_t semitones)
{
    pitch.alter += semitones * MUTA_SEMITONE;
    return pitch;
}

/* A pitch, and those a semitone to either side, which cost something. */
static void add_around(struct site *site, muta_pitch pitch, int64_t each)
{
    for (int32_t by = -1; by <= 1; by++)
        add(site, altered(pitch, by), NULL, each * abs(by));
}

/* Whether music in this key is in the mode already that is asked for. */
static bool is_there(const struct recasting *work, const muta_tone *tone, muta_fraction at)
{
    return work->is_given && work->is_other &&
           is_minor(muta_passage_key_at(work->call->in, tone, at).mode) ==
               (work->given.mode == MUTA_MINOR);
}

/* A tone of a chord of the key becomes one tone, whichever voice has it: over dominants the raised
 * seventh, elsewhere the natural forms. */
static void add_chord_tone(struct site *site, const struct local *local, muta_pitch tonic,
                           const muta_interval *becomes, const muta_scale_tone *const *members,
                           size_t count)
{
    const bool wants_raised = site->is_dominant && members[0] && members[0]->degree == 6;
    size_t best = 0;

    for (size_t i = 1; i < count; i++)
        if ((becomes[i].size > becomes[best].size) == wants_raised)
            best = i;
    add(site, muta_pitch_add(muta_pitch_add(tonic, becomes[best]), local->moved), members[best], 0);
}

/* What a tone may become: what its degree is in the new scale, or what is near. */
static void find_candidates(struct recasting *work, struct site *site, muta_fraction at)
{
    const muta_passage_chord *const chord = muta_passage_chord_at(work->call->in, at);
    const struct local local =
        local_of(work, muta_passage_key_at(work->call->in, site->tone, at), chord);
    const muta_scale *const from = own_scale(work, local.key);
    const muta_pitch tonic = tonic_below(muta_key_tonic(local.key), site->tone->pitch);
    const muta_interval above = muta_pitch_between(tonic, site->tone->pitch);
    const bool is_chord_tone =
        work->is_other && chord && muta_passage_chord_has(chord, site->tone->pitch);
    const muta_scale_tone *members[2];
    muta_interval becomes[2];
    const size_t count = muta_scale_recast(from, local.to, above, becomes, members);

    site->is_foreign = !is_own(from, above);
    site->is_dominant = chord && muta_chord_leading(chord->value.kind, chord->value.root,
                                                    muta_pitch_fifths(muta_key_tonic(local.key))) !=
                                     MUTA_NO_LEADING;
    site->is_practice = work->is_other && local.to->mode == MUTA_MINOR && !local.stays;
    if (is_there(work, site->tone, at) || local.stays) {
        add(site, muta_pitch_add(site->tone->pitch, local.moved), NULL, 0);
        return;
    }
    if (is_chord_tone && !is_of_key(work, &local, chord)) {
        add_around(site,
                   muta_pitch_add(altered(site->tone->pitch, shift_of_chord(work, &local, chord)),
                                  local.moved),
                   APART);
        return;
    }
    if (is_chord_tone && count > 0 && !site->is_foreign) {
        add_chord_tone(site, &local, tonic, becomes, members, count);
        add(site, muta_pitch_add(site->tone->pitch, local.moved), NULL, ALONE);
        return;
    }
    for (size_t i = 0; i < count; i++)
        add(site, muta_pitch_add(muta_pitch_add(tonic, becomes[i]), local.moved), members[i], 0);
    if (count == 0)
        add_near(site, local.to, tonic);
    if (site->count == 0)
        add(site, site->tone->pitch, NULL, 0);
    if (!work->is_other)
        return;
    if (!site->is_foreign) {
        add(site, site->tone->pitch, NULL, LEFT);
        return;
    }
    for (uint32_t i = 0; i < site->count; i++)
        site->prices[i] += ALTERED;
    /* It may stay, or go with the tone that it leans on. */
    add_around(site, site->tone->pitch, ALTERED);
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

/*
 * In the minor of practice the seventh is raised over the dominant's chords and before the tonic,
 * the sixth on its way up to it; elsewhere both are natural. Source: common practice.
 */
static int64_t price_practice(const struct site *site, const muta_scale_tone *member)
{
    const bool is_raised = member && member->goes_up && !member->goes_down;

    if (!member || member->degree < 5)
        return 0;
    if (member->degree == 5)
        return is_raised ? WRONG_WAY / 2 : 0;
    if (site->is_dominant)
        return is_raised ? 0 : 2 * WRONG_WAY;
    return is_raised ? WRONG_WAY : 0;
}

/* What the next tone asks of the sixth and the seventh, and takes off or puts on their price. */
static int64_t price_practice_ways(const struct site *site, const muta_scale_tone *from,
                                   const muta_scale_tone *to, int32_t by)
{
    const bool is_step = by > 0 && by <= NEAR * MUTA_SEMITONE;
    const bool is_raised = from && from->goes_up && !from->goes_down;

    if (!from || !to || !is_step)
        return 0;
    if (from->degree == 6 && to->degree == 0)
        return is_raised ? (site->is_dominant ? 0 : -WRONG_WAY) : WRONG_WAY;
    if (from->degree == 5 && to->degree == 6 && is_raised)
        return to->goes_up && !to->goes_down ? -WRONG_WAY / 2 : 0;
    return 0;
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

/* What neighbours were to each other, and are no more. */
static int64_t price_change(const struct recasting *work, const struct site *here,
                            const muta_pitch *is_from, const muta_pitch *is_to)
{
    const struct site *const before = here - 1;
    const int32_t was = muta_pitch_sound(here->tone->pitch) - muta_pitch_sound(before->tone->pitch);
    const int32_t is = muta_pitch_sound(*is_to) - muta_pitch_sound(*is_from);
    int64_t price = sign_of(is) == sign_of(was) ? 0
                    : sign_of(was) == 0         ? PARTED
                    : sign_of(is) == 0          ? (work->is_other ? STANDS : STANDS_IN)
                                                : OTHER_WAY;

    if (!work->is_other)
        return price;
    if (muta_pitch_is_augmented(*is_from, *is_to) &&
        !muta_pitch_is_augmented(before->tone->pitch, here->tone->pitch))
        price += AUGMENTED;
    if ((here->is_foreign || before->is_foreign) && abs(was) == MUTA_SEMITONE &&
        abs(is) != MUTA_SEMITONE)
        price += PULL;
    return price;
}

static int64_t price(void *context, size_t step, uint32_t from, uint32_t to)
{
    const struct recasting *const work = context;
    const struct site *const here = &work->sites.at[step];
    const int32_t sound = muta_pitch_sound(here->pitches[to]);
    const muta_scale_tone *const member = here->members[to];
    const int32_t away = abs(sound - muta_pitch_sound(here->tone->pitch)) / MUTA_SEMITONE;
    const bool has_forms = work->is_other || (work->is_given && work->given.has_signature);
    int64_t price = here->prices[to];

    price += here->count > 1 && !has_forms ? (int64_t)away * MOVED : 0;
    price += here->is_long && member && member->rests ? RESTED : 0;
    price += here->is_practice ? price_practice(here, member) : 0;
    if (from == MUTA_NO_CANDIDATE)
        return price;
    const struct site *const before = here - 1;
    const int32_t by = sound - muta_pitch_sound(before->pitches[from]);
    price += price_change(work, here, &before->pitches[from], &here->pitches[to]);
    if (!work->is_other)
        return price + price_ways(work, before->members[from], member, by);
    return price + (before->is_practice
                        ? price_practice_ways(before, before->members[from], member, by)
                        : 0);
}

/* The tone of the answer that a tone was copied to: events keep their order, tones may not. */
static muta_tone *counterpart(const muta_call *call, const muta_tone *tone)
{
    const muta_texture in = muta_passage_work(call->in);
    const muta_event *const event = &in.events[tone->event];
    const size_t nth = (size_t)(tone - in.tones) - event->tone;

    return &muta_passage_tones(
        call->out)[muta_passage_work(call->out).events[tone->event].tone + nth];
}

static muta_status recast_strand(struct recasting *work)
{
    const muta_search search = {work, work->sites.count, count_candidates, price};
    muta_answer answer;
    size_t found = 0;

    MUTA_TRY(muta_search_best(&work->arena, &search, 1, &answer, &found));
    for (size_t i = 0; found > 0 && i < work->sites.count; i++) {
        struct site *const site = &work->sites.at[i];
        muta_passage_set_pitch(work->call->out, counterpart(work->call, site->tone),
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

/* What a chord becomes, as its tones do. */
static void recast_chord(const struct recasting *work, muta_key home, const muta_passage_chord *was,
                         muta_passage_chord *chord)
{
    const struct local local = local_of(work, home, was);
    muta_recast recast = {.from = *own_scale(work, local.key),
                          .to = *local.to,
                          .tonic = muta_pitch_fifths(muta_key_tonic(local.key))};
    const int32_t moved = 7 * (local.moved.size / MUTA_SEMITONE);

    chord->value = was->value;
    chord->tonic = recast.tonic + moved;
    chord->is_minor = local.stays ? was->is_minor : local.to->mode == MUTA_MINOR;
    if (!local.stays && (!work->is_other || is_of_key(work, &local, was))) {
        muta_recast_for(&recast, was->value.root);
        const muta_chord_row *const now =
            muta_recast_kind(&recast, was->value.root, muta_chord_row_of(was->value.kind));
        chord->value.root = muta_recast_class(&recast, was->value.root);
        if (now)
            (void)muta_chord_find(now->name, &chord->value.kind);
    } else if (!local.stays) {
        chord->value.root += 7 * shift_of_chord(work, &local, was);
    }
    chord->value.root += moved;
}

/* The chords, and so the symbols, take the same way as the tones. */
static muta_status recast_chords(const struct recasting *work)
{
    const muta_passage *const in = work->call->in;
    const int32_t by = muta_interval_fifths(work->moved);
    muta_passage_chord *chords;

    if (in->chord_count == 0)
        return MUTA_OK;
    MUTA_TRY(muta_passage_own_chords(work->call->out, &chords));
    for (size_t i = 0; i < in->chord_count; i++) {
        muta_key home = {0, MUTA_MAJOR};
        (void)muta_passage_key_in_force(in, in->chords[i].from, &home);
        recast_chord(work, home, &in->chords[i], &chords[i]);
        chords[i].value.root += by;
        chords[i].tonic += by;
    }
    return MUTA_OK;
}

static muta_status recast(struct recasting *work)
{
    const muta_texture texture = muta_passage_work(work->call->in);

    MUTA_TRY(read_scales(work));
    MUTA_TRY(muta_passage_append(work->call->out, work->call->in, MUTA_ZERO, NULL));
    for (size_t i = 0; i < texture.line_count; i++)
        MUTA_TRY(recast_line(work, &texture.lines[i]));
    MUTA_TRY(recast_keys(work));
    return work->call->out->keys_recast ? recast_chords(work) : MUTA_OK;
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
    .needs = MUTA_NEEDS_PITCH | MUTA_NEEDS_STUDY,
    .effect = MUTA_MOVES_KEYS,
    .answer = MUTA_MAY_FIND_NOTHING,
    .needs_mode = needs_mode,
    .run = run,
};
