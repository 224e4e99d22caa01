/* mode_chords.c: what becomes of each chord when a mode is changed, in all voices at once. */
#include "base/search.h"
#include "passes/recasting.h"
#include <stdlib.h>
#include <string.h>

/* Prices, in thousandths. */
enum {
    TUNE = 2,            /* how many times what is heard in the tune counts */
    VOICES = 2,          /* how many tones of a chord a form of it counts for */
    RAISED_ROOT = 12000, /* the natural sixth carries a chord, the raised one none */
    ASTRAY = 3000,       /* a foreign chord leads nowhere, and keeps what is raised in it */
    RAISED_FIFTH = 1500, /* on the second degree the natural sixth is the fifth */
    APART = 6000,        /* a foreign chord stays while what it leads to goes */
    BENT = 4000,         /* a foreign chord's foreign tone is not altered, or more */
    PIVOT = 1000,        /* a chord at the edge of a key is its neighbour's */
    DOUBLE_SIGN = 3500,  /* a tone with two sharps or flats */
    RISING = 3000,       /* a natural sixth from which a line goes up to the tonic */
    MOST = 3,            /* such lines that count */
    RESTLESS = 9000,     /* a phrase ends on a diminished chord, or a dominant leads to one */
    CLASH = 8000,        /* a tone held over from the chord before is another there */
    SETTLED = 8          /* quarters */
};

/* ---- the key ---- */

/* By how many semitones a place on the line of fifths moves with its degree. */
static int32_t shift_of(const struct muta_recasting *work, const struct muta_mode_local *local,
                        int32_t fifths)
{
    const muta_recast recast = {.from = *muta_mode_own_scale(work, local->key),
                                .to = *local->to,
                                .tonic = muta_pitch_fifths(muta_key_tonic(local->key))};

    return (muta_recast_class(&recast, fifths) - fifths) / 7;
}

static bool is_same_key(const muta_passage_chord *a, const muta_passage_chord *b)
{
    return a->tonic == b->tonic && a->is_minor == b->is_minor;
}

/* Whether a chord has the leading tone of a key, and wants its tonic. */
static bool has_leading(const muta_chord *chord, int32_t tonic)
{
    enum {
        LEADING = 5 /* above the tonic, on the line of fifths */
    };

    return muta_chord_leading(chord->kind, chord->root, tonic) == tonic + LEADING;
}

/* Whether a chord is the dominant of its key and goes to the tonic. */
static bool is_closing(const muta_passage_chord *chord, const muta_passage_chord *next)
{
    return is_same_key(chord, next) && next->value.root == next->tonic &&
           has_leading(&chord->value, chord->tonic);
}

/* Whether a key is more than passed through: it lasts two bars of four, or as long, or closes,
 * where that is enough. */
static bool is_settled(const muta_passage *in, const muta_passage_chord *chord, bool may_close)
{
    const muta_passage_chord *const end = in->chords + in->chord_count;
    const muta_passage_chord *first = chord;
    const muta_passage_chord *last = chord;
    bool settled = false;
    bool grows = true;

    while (grows && !settled) {
        const bool before = first > in->chords && is_same_key(first - 1, chord);
        const bool behind = last + 1 < end && is_same_key(last + 1, chord);
        settled = may_close && ((before && is_closing(first - 1, first)) ||
                                (behind && is_closing(last, last + 1)));
        first -= before;
        last += behind;
        settled = settled || muta_fraction_compare(muta_fraction_subtract(last->to, first->from),
                                                   muta_fraction_of(SETTLED, 1)) >= 0;
        grows = before || behind;
    }
    return settled;
}

/*
 * A key on the way has the mode that its degree has in the new key: from C major to C minor a
 * passage on the sixth degree, in A minor, goes to A flat major, one on the dominant to G minor,
 * one on the second stays in D minor; what is on the home tonic in the other mode stays there.
 * Where what is heard is not sure, and for other scales, the signature's key counts. Source: common
 * practice.
 */
static struct muta_mode_local local_of(const struct muta_recasting *work, muta_key home,
                                       const muta_passage_chord *chord)
{
    static const bool is_minor_on[2][7] = {{false, true, true, false, false, true, true},
                                           {true, true, false, true, true, false, false}};
    const bool is_home_minor = muta_mode_is_minor(home.mode);
    const bool is_home = chord->value.root == muta_pitch_fifths(muta_key_tonic(home)) &&
                         chord->value.kind == (is_home_minor ? MUTA_CHORD_MINOR : MUTA_CHORD_MAJOR);
    struct muta_mode_local local = {.key = home, .to = muta_mode_target(work, home.mode)};

    const muta_interval above = muta_key_above(home, muta_fifths_pitch(chord->tonic, 5));
    /* In minor the relative major is near: a cadence in it is none of another key. */
    const bool is_relative = is_home_minor && above.steps == 2;

    if (!work->is_other || !chord->is_sure || !is_settled(work->call->in, chord, !is_relative))
        return local;
    const bool is_own_degree =
        muta_mode_is_own(muta_mode_own_scale(work, home), above) && above.steps < 6;
    /* The home chord is no dominant of the fourth degree: cadences end with it. */
    if (!is_own_degree || (above.steps == 0 && chord->is_minor == is_home_minor) ||
        (above.steps == 3 && is_home))
        return local;
    local.moved.size = shift_of(work, &local, chord->tonic) * MUTA_SEMITONE;
    local.stays = above.steps == 0 || is_minor_on[!is_home_minor][above.steps] == chord->is_minor;
    local.key = (muta_key){chord->tonic - (chord->is_minor ? 3 : 0),
                           chord->is_minor ? MUTA_MINOR : MUTA_MAJOR};
    local.to = chord->is_minor ? &work->from_minor : &work->from_major;
    return local;
}

/* ---- what may become of a chord ---- */

static muta_interval above_of(const struct muta_mode_chord *chord, const muta_passage_chord *was,
                              uint8_t nth)
{
    const int32_t fifths = was->value.root + muta_chord_row_of(was->value.kind)->fifths[nth];

    return muta_key_above(chord->local.key, muta_fifths_pitch(fifths, 5));
}

/* One more answer of a foreign chord: as the first, but for one of its tones. */
static void answer_bent(struct muta_mode_chord *chord, uint8_t nth, int8_t semitones)
{
    struct muta_mode_turn *const turns = chord->answers[chord->count];

    if (chord->count == MUTA_MODE_ANSWERS)
        return;
    memcpy(turns, chord->answers[0], sizeof chord->answers[0]);
    turns[nth].semitones = (int8_t)(turns[nth].semitones + semitones);
    chord->prices[chord->count++] = BENT;
}

/* By how much a foreign tone lies above what the key has; 0 of one of its own. */
static int32_t sharps_of(const struct muta_recasting *work, const struct muta_mode_chord *chord,
                         const muta_passage_chord *was, uint8_t nth)
{
    const muta_scale *const scale = muta_mode_own_scale(work, chord->local.key);
    const muta_interval above = above_of(chord, was, nth);

    for (size_t i = 0; i < scale->count; i++)
        if (scale->tones[i].degree == above.steps)
            return muta_mode_is_own(scale, above)
                       ? 0
                       : above.size / MUTA_SEMITONE - scale->tones[i].semitones;
    return 0;
}

/* Whether a foreign tone is one of those to come, as the lowered third of a major key is. */
static bool is_of_target(const struct muta_mode_chord *chord, const muta_passage_chord *was,
                         uint8_t nth)
{
    const muta_interval above = above_of(chord, was, nth);

    return muta_scale_tone_at(chord->local.to, above.steps, above.size / MUTA_SEMITONE);
}

/* One more answer: the chord of its degree, without what is foreign. */
static void answer_plain(const struct muta_recasting *work, struct muta_mode_chord *chord,
                         const muta_passage_chord *was, int64_t price)
{
    const uint8_t tones = muta_chord_row_of(was->value.kind)->count;
    struct muta_mode_turn *const turns = chord->answers[chord->count];

    for (uint8_t i = 0; i < tones; i++) {
        const int32_t sharps = sharps_of(work, chord, was, i);
        const int32_t fifths =
            was->value.root + muta_chord_row_of(was->value.kind)->fifths[i] - 7 * sharps;
        turns[i].semitones = (int8_t)(shift_of(work, &chord->local, fifths) - sharps);
    }
    chord->prices[chord->count++] = price;
}

static bool is_same_local(const struct muta_mode_local *a, const struct muta_mode_local *b)
{
    return a->key.fifths == b->key.fifths && a->key.mode == b->key.mode && a->stays == b->stays;
}

/* The root that a chord offers to what leads to it: a six-four stands on that of its dominant. */
static int32_t goal_of(const muta_passage_chord *chord)
{
    const bool is_six_four =
        chord->value.bass == 2 &&
        (chord->value.kind == MUTA_CHORD_MAJOR || chord->value.kind == MUTA_CHORD_MINOR) &&
        chord->value.root == chord->tonic;

    return chord->value.root + (is_six_four ? 1 : 0);
}

/*
 * A foreign chord is one thing: it goes whole with the chord that it leads to, as the dominant of
 * the sixth degree does, or stays as it is. What is raised and leads nowhere is not raised; and a
 * tone, as the fifth of an augmented dominant, that leads to a third that is another now.
 */
static void answer_foreign(const struct muta_recasting *work, struct muta_mode_chord *chord,
                           const muta_passage_chord *was)
{
    const muta_passage *const in = work->call->in;
    const muta_passage_chord *const next = was + 1 < in->chords + in->chord_count ? was + 1 : NULL;
    const uint8_t tones = muta_chord_row_of(was->value.kind)->count;
    const int32_t goal = next ? goal_of(next) : was->value.root;
    const bool leads =
        muta_chord_leads(was->value.kind, muta_semitones_class(muta_fifths_class(goal) -
                                                               muta_fifths_class(was->value.root)));
    const int32_t shift = leads ? shift_of(work, &chord->local, goal) : 0;
    /* What leads out of its key goes with the other. */
    const bool leads_out =
        leads && !is_same_local(&work->chords[next - in->chords].local, &chord->local);
    int32_t sharps = 0;

    for (size_t i = 0; i < MUTA_CHORD_MOST; i++)
        chord->answers[0][i].semitones = (int8_t)shift;
    for (uint8_t i = 0; i < tones; i++)
        sharps = sharps_of(work, chord, was, i) > 0 ? 1 : sharps;
    chord->count = 1;
    const bool is_sixth =
        was->value.kind >= MUTA_CHORD_ITALIAN && was->value.kind <= MUTA_CHORD_FRENCH;
    const bool is_astray = sharps && !leads && !is_sixth;
    chord->prices[0] = leads_out ? APART : is_astray ? ASTRAY : 0;
    answer_plain(work, chord, was, is_astray ? 0 : BENT);
    if (shift)
        chord->prices[chord->count++] = APART;
    /* In a key that moves it may stay where it stands. */
    if (chord->local.moved.size != 0) {
        for (uint8_t i = 0; i < tones; i++)
            chord->answers[chord->count][i].semitones =
                (int8_t)(-chord->local.moved.size / MUTA_SEMITONE);
        chord->prices[chord->count++] = APART;
    }
    for (uint8_t i = 0; i < tones; i++)
        if (sharps_of(work, chord, was, i) != 0 && !is_of_target(chord, was, i)) {
            answer_bent(chord, i, -1);
            answer_bent(chord, i, 1);
        }
}

/* What a chord of the key costs with these forms of its tones. */
static int64_t price_answer(const struct muta_mode_chord *chord, const struct muta_mode_turn *turns,
                            uint8_t count, bool is_cadence)
{
    int64_t price = 0;

    if (chord->local.to->mode != MUTA_MINOR)
        return 0;
    for (uint8_t i = 0; i < count; i++) {
        const muta_scale_tone *const member = turns[i].member;
        price += (is_cadence ? VOICES : 1) * muta_mode_price_practice(member, chord->is_dominant);
        if (member && member->degree == 5 && !member->goes_down)
            price += i == 0 ? RAISED_ROOT : i == 2 ? RAISED_FIFTH : 0;
        if (member && member->degree == 5 && member->goes_down)
            price += (int64_t)RISING * (chord->rising < MOST ? chord->rising : MOST);
    }
    return price;
}

/* What a dominant of its own leads to is no diminished chord: it stays, with its dominant. Source:
 * common practice, only a consonant chord is made a tonic. */
static void leave_goal(const struct muta_recasting *work, struct muta_mode_chord *chord,
                       const muta_passage_chord *was)
{
    const muta_passage_chord *const before =
        was > work->call->in->chords ? was - 1 : NULL; /* which is foreign if it leads here */
    const uint32_t count = chord->count;
    bool breaks = false;

    if (!before || was->value.kind != MUTA_CHORD_MINOR || count == MUTA_MODE_ANSWERS ||
        !muta_chord_leads(before->value.kind,
                          muta_semitones_class(muta_fifths_class(was->value.root) -
                                               muta_fifths_class(before->value.root))))
        return;
    for (uint32_t i = 0; i < count; i++)
        if (chord->answers[i][2].semitones < chord->answers[i][0].semitones) {
            chord->prices[i] += RESTLESS;
            breaks = true;
        }
    if (breaks)
        chord->prices[chord->count++] = 0;
}

/* Each of its tones becomes what its degree is; where there are two forms of that, either. */
static void answer_own(const struct muta_recasting *work, struct muta_mode_chord *chord,
                       const muta_passage_chord *was)
{
    const uint8_t tones = muta_chord_row_of(was->value.kind)->count;
    const muta_scale *const from = muta_mode_own_scale(work, chord->local.key);

    const muta_passage *const in = work->call->in;
    /* A triad on the dominant that does not go home may do without the leading tone. */
    const bool is_cadence =
        !chord->is_dominant || tones > 3 || was + 1 == in->chords + in->chord_count ||
        was[1].value.root == muta_pitch_fifths(muta_key_tonic(chord->local.key));

    chord->count = 1;
    for (uint8_t i = 0; i < tones; i++) {
        const muta_interval above = above_of(chord, was, i);
        const muta_scale_tone *members[2];
        muta_interval becomes[2];
        const size_t forms = muta_scale_recast(from, chord->local.to, above, becomes, members);
        const uint32_t before = chord->count;
        if (forms > 1 && 2 * before <= MUTA_MODE_ANSWERS) {
            memcpy(chord->answers[before], chord->answers[0], before * sizeof *chord->answers);
            chord->count = 2 * before;
        }
        for (uint32_t j = 0; forms > 0 && j < chord->count; j++) {
            const size_t form = j >= before;
            chord->answers[j][i] = (struct muta_mode_turn){
                (int8_t)((becomes[form].size - above.size) / MUTA_SEMITONE), members[form]};
        }
    }
    for (uint32_t j = 0; j < chord->count; j++)
        chord->prices[j] = price_answer(chord, chord->answers[j], tones, is_cadence);
    /* The chord of the natural seventh would be diminished in major: no phrase rests on that. */
    if (chord->rests && was->value.kind == MUTA_CHORD_MAJOR &&
        muta_mode_is_minor(chord->local.key.mode) && chord->count < MUTA_MODE_ANSWERS &&
        was->value.root == muta_pitch_fifths(muta_key_tonic(chord->local.key)) - 2) {
        chord->prices[0] += RESTLESS;
        chord->prices[chord->count++] = 0;
    }
    leave_goal(work, chord, was);
    /* A dominant that is not the key's is a link of a chain of them. */
    if (was->value.kind == MUTA_CHORD_DOMINANT && !chord->is_dominant &&
        chord->count < MUTA_MODE_ANSWERS)
        chord->prices[chord->count++] = BENT;
}

/* Whether it is the key's, as far as it sounds: what is only thought of makes no chord foreign. */
static bool is_of_key(const struct muta_recasting *work, const struct muta_mode_chord *chord,
                      const muta_passage_chord *was)
{
    const uint8_t tones = muta_chord_row_of(was->value.kind)->count;

    for (uint8_t i = 0; i < tones; i++)
        if ((was->is_written || (chord->sounds >> i & 1)) &&
            !muta_mode_is_own(muta_mode_own_scale(work, chord->local.key), above_of(chord, was, i)))
            return false;
    return true;
}

/* The chord of the natural seventh before that of the third, where that is a key, is its dominant:
 * in D minor C before F goes with it, to C sharp before F sharp. */
static bool leads_to_third(const struct muta_recasting *work, const struct muta_mode_chord *chord,
                           const muta_passage_chord *was)
{
    const muta_passage *const in = work->call->in;
    const muta_passage_chord *const next = was + 1;
    const int32_t tonic = muta_pitch_fifths(muta_key_tonic(chord->local.key));

    return muta_mode_is_minor(chord->local.key.mode) && next < in->chords + in->chord_count &&
           muta_chord_is_dominant(was->value.kind) && was->value.root == tonic - 2 &&
           next->value.root == tonic - 3 && work->chords[next - in->chords].local.moved.size != 0;
}

/* Nobody wants to read double sharps and flats that were not there. */
static int64_t price_signs(const muta_passage_chord *was, const struct muta_mode_turn *turns)
{
    const muta_chord_row *const row = muta_chord_row_of(was->value.kind);
    int64_t price = 0;

    for (uint8_t i = 0; i < row->count; i++) {
        const muta_pitch pitch = muta_fifths_pitch(was->value.root + row->fifths[i], 4);
        const int32_t alter = pitch.alter + turns[i].semitones * MUTA_SEMITONE;
        price += turns[i].semitones != 0 && abs(alter) >= 2 * MUTA_SEMITONE ? DOUBLE_SIGN : 0;
    }
    return price;
}

static void answer_alone(const struct muta_recasting *work, struct muta_mode_chord *chord,
                         const muta_passage_chord *was)
{
    if (chord->local.stays)
        chord->count = 1;
    else if (is_of_key(work, chord, was) && !leads_to_third(work, chord, was))
        answer_own(work, chord, was);
    else
        answer_foreign(work, chord, was);
    for (uint32_t i = 0; i < chord->count; i++) {
        for (size_t j = 0; j < MUTA_CHORD_MOST; j++)
            chord->answers[i][j].semitones =
                (int8_t)(chord->answers[i][j].semitones + chord->local.moved.size / MUTA_SEMITONE);
        chord->prices[i] += price_signs(was, chord->answers[i]);
    }
}

/* At the edge of a key a chord may be its neighbour's, if it is of that key. */
static void answer_as_neighbour(const struct muta_recasting *work, struct muta_mode_chord *chord,
                                const muta_passage_chord *was)
{
    const size_t nth = (size_t)(chord - work->chords);
    const struct muta_mode_chord *const before = nth > 0 ? chord - 1 : chord;
    const struct muta_mode_chord *const next =
        nth + 1 < work->call->in->chord_count ? chord + 1 : chord;
    const struct muta_mode_chord *const neighbour =
        !is_same_local(&before->local, &chord->local) ? before : next;
    struct muta_mode_chord as = *chord;

    as.local = neighbour->local;
    as.count = 0;
    if (is_same_local(&as.local, &chord->local) || !is_of_key(work, &as, was))
        return;
    answer_alone(work, &as, was);
    chord->other = as.local;
    for (uint32_t i = 0; i < as.count && chord->count < MUTA_MODE_ANSWERS; i++) {
        memcpy(chord->answers[chord->count], as.answers[i], sizeof as.answers[i]);
        chord->prices[chord->count++] = as.prices[i] + PIVOT;
        chord->others++;
    }
}

bool muta_mode_is_pivoted(const struct muta_mode_chord *chord)
{
    return chord->taken + chord->others >= chord->count;
}

static void answer(const struct muta_recasting *work, struct muta_mode_chord *chord,
                   const muta_passage_chord *was)
{
    answer_alone(work, chord, was);
    answer_as_neighbour(work, chord, was);
}

/* ---- the chords ---- */

static void read_chord(const struct muta_recasting *work, struct muta_mode_chord *chord,
                       const muta_passage_chord *was)
{
    muta_key home = {0, MUTA_MAJOR};

    (void)muta_passage_key_in_force(work->call->in, was->from, &home);
    *chord = (struct muta_mode_chord){.local = local_of(work, home, was)};
    chord->local.stays = chord->local.stays || muta_mode_is_there(work, home);
    chord->is_dominant =
        has_leading(&was->value, muta_pitch_fifths(muta_key_tonic(chord->local.key)));
}

/* Whether a line stands alone, without a symbol: chords are only guessed then, and it has its forms
 * by itself. */
static bool is_tune_alone(const muta_passage *in)
{
    for (size_t i = 0; i < in->chord_count; i++)
        if (in->chords[i].is_written)
            return false;
    return in->first->lines.count + in->context->lines.count <= 1;
}

muta_status muta_mode_read_chords(struct muta_recasting *work)
{
    const muta_passage *const in = work->call->in;

    if (!work->is_other || in->chord_count == 0 || is_tune_alone(in))
        return MUTA_OK;
    work->chords = muta_arena_take_array(&work->arena, in->chord_count, sizeof *work->chords);
    if (!work->chords)
        return MUTA_E_MEMORY;
    for (size_t i = in->chord_count; i > 0; i--) {
        read_chord(work, &work->chords[i - 1], &in->chords[i - 1]);
        /* A chord in which the key changes is the new key's. */
        if (i < in->chord_count && in->chords[i].is_sure &&
            in->chords[i - 1].value.root == in->chords[i].value.root &&
            in->chords[i - 1].value.kind == in->chords[i].value.kind)
            work->chords[i - 1].local = work->chords[i].local;
    }
    return MUTA_OK;
}

struct muta_mode_chord *muta_mode_chord_at(const struct muta_recasting *work, muta_fraction time)
{
    const muta_passage *const in = work->call->in;
    const muta_passage_chord *const chord = work->chords ? muta_passage_chord_at(in, time) : NULL;

    return chord ? &work->chords[chord - in->chords] : NULL;
}

int8_t muta_mode_nth(const struct muta_recasting *work, const struct muta_mode_chord *chord,
                     muta_pitch pitch)
{
    const muta_chord *const value = &work->call->in->chords[chord - work->chords].value;
    const int nth =
        muta_chord_tone(value->kind, muta_pitch_semitones(pitch) - muta_fifths_class(value->root));

    /* An applied dominant has its seventh, whenever that comes. */
    if (value->kind == MUTA_CHORD_MAJOR && muta_pitch_fifths(pitch) == value->root - 2 &&
        !muta_mode_is_own(muta_mode_own_scale(work, chord->local.key),
                          muta_key_above(chord->local.key, muta_fifths_pitch(value->root + 4, 5))))
        return MUTA_CHORD_TONES - 1;
    /* One that is written otherwise goes its own way. */
    if (nth < 0 ||
        muta_pitch_fifths(pitch) != value->root + muta_chord_row_of(value->kind)->fifths[nth])
        return -1;
    return (int8_t)nth;
}

struct muta_mode_form muta_mode_form_of(const struct muta_mode_chord *chord, muta_pitch pitch,
                                        int8_t nth, uint32_t answer)
{
    const struct muta_mode_turn *const turn = &chord->answers[answer][nth];

    pitch.alter += turn->semitones * MUTA_SEMITONE;
    return (struct muta_mode_form){pitch, turn->member, 0};
}

/* ---- the search ---- */

/* A step of a strand from one chord's tone to another's, or a tone that is held from the one into
 * the other. */
struct move {
    const struct muta_mode_site *from;
    const struct muta_mode_site *to; /* the same: it is held */
    struct muta_mode_chord *into;
    int8_t nth; /* what it is there */
    uint32_t next;
};

struct decision {
    const struct muta_recasting *work;
    MUTA_VEC(struct move) moves;
};

static muta_status push_move(struct muta_recasting *work, struct decision *decision,
                             const struct move *move)
{
    struct move *const made = MUTA_PUSH(&work->arena, &decision->moves);

    if (!made)
        return MUTA_E_MEMORY;
    *made = *move;
    made->next = move->into->moves;
    move->into->moves = (uint32_t)decision->moves.count;
    return MUTA_OK;
}

/* Whether a strand goes on from a sixth degree through the seventh to the tonic. */
static bool rises_to_tonic(const struct muta_recasting *work, const struct muta_mode_site *site)
{
    const struct muta_mode_site *const end = work->sites.at + work->sites.count;

    return site->degree == 5 && end - site > 2 && !site[1].is_first && !site[2].is_first &&
           site[1].tone->pitch.place == site->tone->pitch.place + 1 &&
           site[2].tone->pitch.place == site->tone->pitch.place + 2;
}

/* The moves that end at a tone of a strand, or in the chord that it is held into. */
static muta_status find_moves(struct muta_recasting *work, struct decision *decision,
                              const struct muta_mode_site *site)
{
    const muta_passage *const in = work->call->in;
    const muta_event *const event = &muta_passage_work(in).events[site->tone->event];
    const struct muta_mode_site *const before = site->is_first ? site : site - 1;

    if (site->nth < 0)
        return MUTA_OK;
    site->chord->sounds |= (uint8_t)(1U << site->nth);
    site->chord->rests = site->chord->rests || event->closes;
    if (rises_to_tonic(work, site) && site->chord->rising < UINT8_MAX - TUNE)
        site->chord->rising = (uint8_t)(site->chord->rising + (site->tone->is_tune ? TUNE : 1));
    if (before < site && before->nth >= 0 &&
        (before->chord == site->chord || before->chord + 1 == site->chord))
        MUTA_TRY(
            push_move(work, decision, &(struct move){before, site, site->chord, site->nth, 0}));
    const muta_fraction end = muta_fraction_add(event->onset, event->duration);
    struct muta_mode_chord *const next = site->chord + 1;
    if (next == work->chords + in->chord_count ||
        muta_mode_chord_at(work, in->chords[next - work->chords].from) != next ||
        muta_fraction_compare(end, in->chords[next - work->chords].from) <= 0)
        return MUTA_OK;
    const int8_t nth = muta_mode_nth(work, next, site->tone->pitch);
    return nth < 0 ? MUTA_OK : push_move(work, decision, &(struct move){site, site, next, nth, 0});
}

/* A tone that makes the leading tone beside it a dominant's: the second degree, or the fourth. */
struct partner {
    muta_fraction from;
    muta_fraction to;
};

static int by_onset(const void *a, const void *b)
{
    const struct partner *const one = a;
    const struct partner *const two = b;
    const int begins = muta_fraction_compare(one->from, two->from);

    return begins != 0 ? begins : muta_fraction_compare(one->to, two->to);
}

static struct partner time_of(const struct muta_recasting *work, const struct muta_mode_site *site)
{
    const muta_event *const event = &muta_passage_work(work->call->in).events[site->tone->event];

    return (struct partner){event->onset, muta_fraction_add(event->onset, event->duration)};
}

/* Whether one of the partners, which are in order, sounds with a tone. */
static bool has_partner(const struct partner *partners, size_t count, const struct partner *tone)
{
    enum {
        FARTHEST = 16 /* that began before */
    };
    size_t low = 0;
    size_t high = count;

    while (low < high) {
        const size_t middle = low + (high - low) / 2;
        if (muta_fraction_compare(partners[middle].from, tone->to) < 0)
            low = middle + 1;
        else
            high = middle;
    }
    for (size_t i = low; i > 0 && low - i < FARTHEST; i--)
        if (muta_fraction_compare(partners[i - 1].to, tone->from) > 0)
            return true;
    return false;
}

static bool is_partner(const struct muta_mode_site *site)
{
    return site->degree == 1 || site->degree == 3;
}

static bool is_fifth(const struct muta_mode_site *site)
{
    return !site->is_foreign && site->degree == 4;
}

/* Whether the strand itself has a partner next to it, as broken chords do. */
static bool is_beside(const struct muta_recasting *work, size_t nth)
{
    const struct muta_mode_site *const site = &work->sites.at[nth];

    return (!site->is_first && (is_partner(site - 1) || is_fifth(site - 1))) ||
           (nth + 1 < work->sites.count && !site[1].is_first &&
            (is_partner(site + 1) || is_fifth(site + 1)));
}

/* Whether the strand goes through a seventh degree by step, down from it to the sixth or up to it
 * from there: then the line has its forms. */
static bool is_of_scale(const struct muta_recasting *work, size_t nth)
{
    const struct muta_mode_site *const site = &work->sites.at[nth];
    const muta_pitch pitch = site->tone->pitch;

    return (!site->is_first && site[-1].tone->pitch.place == pitch.place - 1) ||
           (nth + 1 < work->sites.count && !site[1].is_first &&
            site[1].tone->pitch.place == pitch.place - 1);
}

/* Over the tonic held in the bass too, what sounds with the second degree or the fourth, or breaks
 * a chord with them, is the leading tone. */
static muta_status find_leading(struct muta_recasting *work)
{
    struct partner *const partners =
        muta_arena_take_array(&work->arena, work->sites.count + 1, sizeof *partners);
    size_t count = 0;

    if (!partners)
        return MUTA_E_MEMORY;
    for (size_t i = 0; i < work->sites.count; i++) {
        const struct muta_mode_site *const site = &work->sites.at[i];
        if (is_partner(site))
            partners[count++] = time_of(work, site);
    }
    muta_sort(partners, count, sizeof *partners, by_onset);
    for (size_t i = 0; i < work->sites.count; i++) {
        struct muta_mode_site *const site = &work->sites.at[i];
        const struct partner tone = time_of(work, site);
        if (site->is_practice && !site->is_foreign && site->degree == 6 && !is_of_scale(work, i) &&
            (is_beside(work, i) || has_partner(partners, count, &tone)))
            site->is_dominant = true;
    }
    return MUTA_OK;
}

static uint32_t count_answers(void *context, size_t step)
{
    return ((struct decision *)context)->work->chords[step].count;
}

static int64_t price_move(const struct muta_recasting *work, const struct move *move, uint32_t from,
                          uint32_t to)
{
    const struct muta_mode_form before =
        muta_mode_form_of(move->from->chord, move->from->tone->pitch, move->from->nth, from);
    const struct muta_mode_form here =
        muta_mode_form_of(move->into, move->to->tone->pitch, move->nth, to);

    if (move->from == move->to)
        return muta_pitch_is_equal(before.pitch, here.pitch) ? 0 : CLASH;
    return muta_mode_price_step(work, move->from, &before, move->to, &here) *
           (move->to->tone->is_tune ? TUNE : 1);
}

static int64_t price(void *context, size_t step, uint32_t from, uint32_t to)
{
    const struct decision *const decision = context;
    const struct muta_mode_chord *const chord = &decision->work->chords[step];
    int64_t price = chord->prices[to];

    for (uint32_t i = chord->moves; i > 0; i = decision->moves.at[i - 1].next) {
        const struct move *const move = &decision->moves.at[i - 1];
        const bool is_inside = move->from->chord == chord;
        if (is_inside || from != MUTA_NO_CANDIDATE)
            price += price_move(decision->work, move, is_inside ? to : from, to);
    }
    return price;
}

muta_status muta_mode_decide(struct muta_recasting *work)
{
    struct decision decision = {.work = work};
    const muta_search search = {&decision, work->call->in->chord_count, count_answers, price};
    muta_answer best;
    size_t found = 0;

    if (work->is_other)
        MUTA_TRY(find_leading(work));
    if (!work->chords)
        return MUTA_OK;
    for (size_t i = 0; i < work->sites.count; i++)
        MUTA_TRY(find_moves(work, &decision, &work->sites.at[i]));
    for (size_t i = 0; i < search.steps; i++)
        answer(work, &work->chords[i], &work->call->in->chords[i]);
    MUTA_TRY(muta_search_best(&work->arena, &search, 1, &best, &found));
    for (size_t i = 0; found > 0 && i < search.steps; i++)
        work->chords[i].taken = best.taken[i];
    for (size_t i = 0; i < search.steps; i++)
        if (muta_mode_is_pivoted(&work->chords[i]))
            work->chords[i].local = work->chords[i].other;
    return MUTA_OK;
}

/* ---- what they have become ---- */

/* In another scale than major and minor chords go by degree. */
static void write_by_degree(const struct muta_recasting *work, const muta_passage_chord *was,
                            muta_passage_chord *chord)
{
    muta_key home = {0, MUTA_MAJOR};

    (void)muta_passage_key_in_force(work->call->in, was->from, &home);
    muta_recast recast = {.from = *muta_mode_own_scale(work, home),
                          .to = *muta_mode_target(work, home.mode),
                          .tonic = muta_pitch_fifths(muta_key_tonic(home))};
    chord->tonic = recast.tonic;
    chord->is_minor = recast.to.mode == MUTA_MINOR;
    muta_recast_for(&recast, was->value.root);
    const muta_chord_row *const now =
        muta_recast_kind(&recast, was->value.root, muta_chord_row_of(was->value.kind));
    chord->value.root = muta_recast_class(&recast, was->value.root);
    if (now)
        (void)muta_chord_find(now->name, &chord->value.kind);
}

static void write_as_decided(const struct muta_mode_chord *decided, const muta_passage_chord *was,
                             muta_passage_chord *chord)
{
    const muta_chord_row *const row = muta_chord_row_of(was->value.kind);
    const struct muta_mode_turn *const turns = decided->answers[decided->taken];
    const int32_t moved = 7 * (decided->local.moved.size / MUTA_SEMITONE);
    int32_t tones[MUTA_CHORD_MOST] = {was->value.root + 7 * turns[0].semitones};

    for (uint8_t i = 1; i < row->count; i++)
        tones[i] = was->value.root + row->fifths[i] + 7 * turns[i].semitones;
    chord->value.root = tones[0];
    (void)muta_chord_kind_of(tones, row->count, &chord->value.kind);
    chord->tonic = muta_pitch_fifths(muta_key_tonic(decided->local.key)) + moved;
    if (!decided->local.stays)
        chord->is_minor = decided->local.to->mode == MUTA_MINOR;
}

muta_status muta_mode_write_chords(struct muta_recasting *work)
{
    const muta_passage *const in = work->call->in;
    const int32_t by = muta_interval_fifths(work->moved);
    muta_passage_chord *chords;

    if (in->chord_count == 0)
        return MUTA_OK;
    MUTA_TRY(muta_passage_own_chords(work->call->out, &chords));
    for (size_t i = 0; i < in->chord_count; i++) {
        if (work->chords)
            write_as_decided(&work->chords[i], &in->chords[i], &chords[i]);
        else
            write_by_degree(work, &in->chords[i], &chords[i]);
        chords[i].value.root += by;
        chords[i].tonic += by;
    }
    return MUTA_OK;
}
