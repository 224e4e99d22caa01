/* chain.c: a line of passes, parsed and run: each on what the one before gave back. */
#include "base/text.h"
#include "base/vec.h"
#include "mutanza/limits.h"
#include "passes/pass.h"
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum {
    WORD = 512
};

struct link {
    const muta_pass *pass;
    void *args;
    muta_common common;
    bool *given; /* by param */
};

struct muta_chain {
    muta_arena arena;
    MUTA_VEC(struct link) links;
    char *text;
};

struct parse {
    muta_chain *chain;
    muta_diags *diags;
    const char *at;
};

static const char *pass_name(const void *unused, size_t i)
{
    (void)unused;
    return muta_pass_at(i)->name;
}

/* The nth key of a pass, its own first. */
static const muta_param *param_at(const muta_pass *pass, size_t nth)
{
    return nth < pass->param_count ? &pass->params[nth]
                                   : muta_pass_common_param(pass, nth - pass->param_count);
}

static const char *param_name(const void *pass, size_t i)
{
    return param_at(pass, i)->name;
}

static size_t count_params(const muta_pass *pass)
{
    size_t count = 0;

    while (param_at(pass, count))
        count++;
    return count;
}

static muta_status unknown(muta_diags *diags, const char *what, const char *word,
                           const char *nearest)
{
    if (nearest)
        muta_diag_add(diags, MUTA_ERROR, MUTA_NOWHERE,
                      "there is no %s \"%.60s\"; did you mean \"%s\"?", what, word, nearest);
    else
        muta_diag_add(diags, MUTA_ERROR, MUTA_NOWHERE,
                      "there is no %s \"%.60s\"; `mutanza passes` lists what there is", what, word);
    return MUTA_E_USAGE;
}

static void skip_blanks(struct parse *parse)
{
    parse->at += strspn(parse->at, " \t\r\n");
}

/* Reads one word; what stands in double quotes may hold blanks and bars. */
static muta_status read_word(struct parse *parse, char *word)
{
    size_t length = 0;
    bool quoted = false;

    for (; *parse->at && (quoted || !strchr(" \t\r\n|", *parse->at)); parse->at++) {
        quoted = quoted != (*parse->at == '"');
        if (length + 1 == WORD) {
            muta_diag_add(parse->diags, MUTA_ERROR, MUTA_NOWHERE, "a word is too long");
            return MUTA_E_USAGE;
        }
        word[length++] = *parse->at;
    }
    word[length] = '\0';
    if (!quoted)
        return MUTA_OK;
    muta_diag_add(parse->diags, MUTA_ERROR, MUTA_NOWHERE, "a quotation mark is not closed");
    return MUTA_E_USAGE;
}

/* Quotes round the whole value are how it was typed, not what it is. */
static char *unquoted(char *value)
{
    const size_t length = strlen(value);

    if (length < 2 || value[0] != '"' || strchr(value + 1, '"') != value + length - 1)
        return value;
    value[length - 1] = '\0';
    return value + 1;
}

static muta_status set_common(struct parse *parse, struct link *link, const muta_param *param,
                              const char *value)
{
    if (param->type == MUTA_PARAM_ADDRESS && link != parse->chain->links.at) {
        muta_diag_add(parse->diags, MUTA_ERROR, MUTA_NOWHERE,
                      "where= stands in the first pass of a line; the others go on with it");
        return MUTA_E_USAGE;
    }
    if (param->type == MUTA_PARAM_ADDRESS && !*value) {
        muta_diag_add(parse->diags, MUTA_ERROR, MUTA_NOWHERE,
                      "where= says nothing; write * for everything");
        return MUTA_E_USAGE;
    }
    return muta_args_set(param, value, &link->common, parse->diags);
}

static muta_status check_excluded(struct parse *parse, const struct link *link)
{
    const muta_pass *const pass = link->pass;

    for (size_t i = 0; i < pass->param_count; i++)
        for (size_t j = 0; j < pass->param_count && pass->params[i].instead_of; j++)
            if (link->given[i] && link->given[j] &&
                strcmp(pass->params[i].instead_of, pass->params[j].name) == 0) {
                muta_diag_add(parse->diags, MUTA_ERROR, MUTA_NOWHERE,
                              "%s takes %s= or %s=, not both", pass->name, pass->params[j].name,
                              pass->params[i].name);
                return MUTA_E_USAGE;
            }
    return MUTA_OK;
}

static muta_status read_key(struct parse *parse, struct link *link, char *word)
{
    char *const equals = strchr(word, '=');
    const muta_pass *const pass = link->pass;
    const size_t count = count_params(pass);
    size_t nth = 0;

    if (!equals) {
        muta_diag_add(parse->diags, MUTA_ERROR, MUTA_NOWHERE,
                      "\"%.60s\" is no KEY=VALUE of %s; passes are parted by | or then", word,
                      pass->name);
        return MUTA_E_USAGE;
    }
    *equals = '\0';
    const char *const typed = unquoted(equals + 1);
    const char *const value = muta_arena_copy_text(&parse->chain->arena, typed, strlen(typed));
    if (!value)
        return MUTA_E_MEMORY;
    while (nth < count && strcmp(param_at(pass, nth)->name, word) != 0)
        nth++;
    if (nth == count) {
        char what[64];
        (void)snprintf(what, sizeof what, "key of %s called", pass->name);
        return unknown(parse->diags, what, word, muta_text_nearest(word, pass, count, param_name));
    }
    if (link->given[nth]) {
        muta_diag_add(parse->diags, MUTA_ERROR, MUTA_NOWHERE, "%s= is given twice", word);
        return MUTA_E_USAGE;
    }
    link->given[nth] = true;
    if (nth >= pass->param_count)
        return set_common(parse, link, param_at(pass, nth), value);
    return muta_args_set(&pass->params[nth], value, link->args, parse->diags);
}

static muta_status add_link(struct parse *parse, const char *name, struct link **link)
{
    muta_chain *const chain = parse->chain;
    const muta_pass *const pass = muta_pass_find(name);

    if (!pass)
        return unknown(parse->diags, "pass", name,
                       muta_text_nearest(name, NULL, muta_pass_count(), pass_name));
    if (chain->links.count == MUTA_LIMIT_CHAIN) {
        muta_diag_add(parse->diags, MUTA_ERROR, MUTA_NOWHERE, "more than %d passes in a line",
                      MUTA_LIMIT_CHAIN);
        return MUTA_E_USAGE;
    }
    *link = MUTA_PUSH(&chain->arena, &chain->links);
    if (!*link)
        return MUTA_E_MEMORY;
    (*link)->pass = pass;
    (*link)->args = muta_arena_take(&chain->arena, pass->args_size);
    (*link)->given = muta_arena_take_array(&chain->arena, count_params(pass), sizeof(bool));
    if (!(*link)->args || !(*link)->given)
        return MUTA_E_MEMORY;
    return muta_args_default(pass, (*link)->args);
}

/* Reads NAME key=value … up to a bar, `then` or the end. */
static muta_status read_pass(struct parse *parse, bool *more)
{
    char word[WORD];
    struct link *link = NULL;

    *more = false;
    skip_blanks(parse);
    MUTA_TRY(read_word(parse, word));
    if (!word[0]) {
        muta_diag_add(parse->diags, MUTA_ERROR, MUTA_NOWHERE,
                      "a pass is missing; `mutanza passes` lists them");
        return MUTA_E_USAGE;
    }
    MUTA_TRY(add_link(parse, word, &link));
    for (skip_blanks(parse); *parse->at; skip_blanks(parse)) {
        if (*parse->at == '|') {
            parse->at++;
            *more = true;
            break;
        }
        MUTA_TRY(read_word(parse, word));
        if (strcmp(word, "then") == 0) {
            *more = true;
            break;
        }
        MUTA_TRY(read_key(parse, link, word));
    }
    return check_excluded(parse, link);
}

/* The line with single blanks and bars between the passes. */
static muta_status keep_text(muta_chain *chain, const char *text)
{
    char *const kept = muta_arena_take(&chain->arena, strlen(text) * 2 + 4);
    char *to = kept;
    bool quoted = false;

    if (!kept)
        return MUTA_E_MEMORY;
    for (const char *at = text; *at; at++) {
        const bool blank = !quoted && strchr(" \t\r\n", *at);
        quoted = quoted != (*at == '"');
        if (!blank) {
            *to++ = *at;
        } else if (strncmp(at + 1, "then", 4) == 0 && strchr(" \t\r\n", at[5])) {
            *to++ = ' ';
            *to++ = '|';
            at += 4;
        } else if (to > kept && to[-1] != ' ') {
            *to++ = ' ';
        }
    }
    while (to > kept && to[-1] == ' ')
        to--;
    *to = '\0';
    chain->text = kept;
    return MUTA_OK;
}

static muta_status read_all(struct parse *parse)
{
    const char *const text = parse->at;
    bool more = true;

    while (more)
        MUTA_TRY(read_pass(parse, &more));
    return keep_text(parse->chain, text);
}

muta_status muta_chain_parse(const char *text, muta_chain **chain, muta_diags *diags)
{
    struct parse parse = {calloc(1, sizeof(muta_chain)), diags, text};

    if (!parse.chain)
        return MUTA_E_MEMORY;
    const muta_status status = read_all(&parse);
    if (status != MUTA_OK) {
        muta_chain_free(parse.chain);
        return status;
    }
    *chain = parse.chain;
    return MUTA_OK;
}

void muta_chain_free(muta_chain *chain)
{
    if (!chain)
        return;
    muta_arena_clear(&chain->arena);
    free(chain);
}

const char *muta_chain_text(const muta_chain *chain)
{
    return chain->text;
}

static muta_status apply_link(const struct link *link, const muta_passage *in, uint64_t seed,
                              muta_passage **out, muta_diags *diags)
{
    MUTA_TRY(muta_passage_new_like(in, out));
    const muta_call call = {in, *out, link->args, (muta_keys)link->common.keys, seed, diags};
    muta_status status = link->pass->run(&call);
    if (status == MUTA_OK)
        status = muta_passage_settle(*out);
    if (status == MUTA_OK && link->common.keep)
        status = muta_keep(in, *out, link->common.keep, diags);
    if (status != MUTA_OK)
        muta_passage_free(*out);
    return status;
}

/* What moves time is done between the edges of repeats, each stretch by itself. */
static muta_status apply_by_stretch(const struct link *link, const muta_passage *in, uint64_t seed,
                                    muta_passage *out, muta_diags *diags)
{
    muta_status status = MUTA_OK;

    for (size_t i = 0; status == MUTA_OK && i < muta_passage_stretch_count(in); i++) {
        muta_passage *stretch;
        muta_passage *varied;
        MUTA_TRY(muta_passage_take_stretch(in, i, &stretch));
        status = muta_passage_settle(stretch);
        if (status == MUTA_OK)
            status = apply_link(link, stretch, seed, &varied, diags);
        if (status == MUTA_OK) {
            status = muta_passage_add_stretch(out, i, varied);
            muta_passage_free(varied);
        }
        muta_passage_free(stretch);
    }
    return status == MUTA_OK ? muta_passage_settle(out) : status;
}

/* In test builds what each pass gives back is looked over. */
static muta_status look_over(const struct link *link, const muta_passage *out,
                             const muta_passage *first, muta_diags *diags)
{
#ifdef MUTA_CHECKED
    const char *why;
    if (!muta_passage_is_sound(out, first, &why)) {
        muta_diag_add(diags, MUTA_ERROR, MUTA_NOWHERE, "a fault of ours: %s: %s", link->pass->name,
                      why);
        return MUTA_E_FAULT;
    }
#else
    (void)link;
    (void)out;
    (void)first;
    (void)diags;
#endif
    return MUTA_OK;
}

static muta_status apply_step(const struct link *link, const muta_passage *in, uint64_t seed,
                              muta_passage **out, muta_diags *diags)
{
    if (!link->pass->moves_time || muta_passage_stretch_count(in) < 2)
        return apply_link(link, in, seed, out, diags);
    MUTA_TRY(muta_passage_new_like(in, out));
    const muta_status status = apply_by_stretch(link, in, seed, *out, diags);
    if (status != MUTA_OK)
        muta_passage_free(*out);
    return status;
}

muta_status muta_chain_apply(const muta_chain *chain, const muta_passage *in, uint64_t seed,
                             muta_passage **out, muta_diags *diags)
{
    const muta_passage *from = in;
    muta_passage *made = NULL;

    for (size_t i = 0; i < chain->links.count; i++) {
        muta_passage *const before = made;
        muta_status status = apply_step(&chain->links.at[i], from, seed, &made, diags);
        muta_passage_free(before);
        MUTA_TRY(status);
        status = look_over(&chain->links.at[i], made, in, diags);
        if (status != MUTA_OK) {
            muta_passage_free(made);
            return status;
        }
        from = made;
    }
    *out = made;
    return MUTA_OK;
}

/* Whether a line has two tones of different pitch, one after the other. */
static bool has_shape(const muta_texture *work, const muta_line *line)
{
    const muta_tone *before = NULL;

    for (uint32_t i = line->event; i < line->event + line->event_count; i++) {
        const muta_tone *const tone = &work->tones[work->events[i].tone];
        if (tone->is_fixed || work->events[i].is_grace)
            continue;
        if (before && !muta_pitch_is_equal(before->pitch, tone->pitch))
            return true;
        before = tone;
    }
    return false;
}

/* Whether there is something here that every pass of the chain can work on. */
static bool has_work(const muta_chain *chain, const muta_passage *passage)
{
    const muta_texture work = muta_passage_work(passage);
    bool rhythm = true;
    bool shape = false;

    for (size_t i = 0; i < chain->links.count; i++) {
        rhythm = rhythm && chain->links.at[i].pass->works_on_rhythm;
        shape = shape || chain->links.at[i].pass->needs_shape;
    }
    for (size_t i = 0; i < work.line_count && shape; i++)
        if (has_shape(&work, &work.lines[i]))
            return true;
    for (size_t i = 0; i < work.tone_count && !shape; i++)
        if (rhythm || !work.tones[i].is_fixed)
            return true;
    return false;
}

/* A tune that moves away from the others leaves them with the old harmony. */
static void warn_of_harmony(const muta_passage *passage, muta_diags *diags)
{
    const muta_texture context = muta_passage_context(passage);
    const muta_texture work = muta_passage_work(passage);
    bool changed = false;

    for (size_t i = 0; i < work.tone_count; i++)
        changed = changed || work.tones[i].is_pitch_changed;
    if (!changed)
        return;
    if (muta_passage_leaves_chords(passage))
        muta_diag_add(diags, MUTA_WARNING, MUTA_NOWHERE,
                      "the chord symbols still name the old harmony");
    for (size_t i = 0; i < context.tone_count; i++)
        if (!context.tones[i].is_fixed) {
            muta_diag_add(diags, MUTA_WARNING, MUTA_NOWHERE,
                          "the other parts still play the old harmony");
            return;
        }
}

/* The key that was asked for, as it is written in each part that does not sound as written. */
static void print_written_keys(const muta_chain *chain, const muta_score *score,
                               const muta_region *region, char *text, size_t room)
{
    char key[MUTA_KEY_TEXT];

    text[0] = '\0';
    for (size_t i = 0; i < chain->links.count; i++) {
        const struct link *const link = &chain->links.at[i];
        for (size_t j = 0; j < link->pass->param_count; j++) {
            const muta_param *const param = &link->pass->params[j];
            const muta_given_key *const given =
                (const void *)((const char *)link->args + param->offset);
            if (param->type != MUTA_PARAM_KEY || !given->is_given)
                continue;
            for (size_t part = 0; part < muta_score_part_count(score); part++) {
                const muta_interval by = muta_region_transposition(region, score, part);
                int32_t fifths = given->key.fifths - muta_interval_fifths(by);
                const size_t used = strlen(text);
                if (muta_interval_fifths(by) == 0)
                    continue;
                /* As it is written: never with more than seven accidentals. */
                fifths -= fifths > MUTA_LIMIT_FIFTHS ? 12 : fifths < -MUTA_LIMIT_FIFTHS ? -12 : 0;
                muta_key_print((muta_key){fifths, given->key.mode}, key);
                (void)snprintf(text + used, room - used, ", written %.*s in %.40s",
                               (int)strcspn(key, " "), key, muta_score_part_name(score, part));
            }
        }
    }
}

static void add_bars(const muta_outcome *outcome, char *text, size_t room)
{
    const size_t count = outcome->bars_added ? outcome->bars_added : outcome->bars_removed;

    text[0] = '\0';
    if (count > 0)
        (void)snprintf(text, room, ", %zu bar%s %s", count, count == 1 ? "" : "s",
                       outcome->bars_added ? "added" : "taken out");
}

/* What is said of a run, found before bars and numbers change. */
struct naming {
    char stretch[160];
    char keys[240];
};

/* Stretches that lie apart are named as they were given. */
static void name(const muta_chain *chain, const muta_score *score, const muta_region *region,
                 bool apart, struct naming *naming)
{
    if (apart)
        (void)snprintf(naming->stretch, sizeof naming->stretch, "%.150s",
                       chain->links.at[0].common.where);
    else
        muta_region_print(score, region, naming->stretch, sizeof naming->stretch);
    print_written_keys(chain, score, region, naming->keys, sizeof naming->keys);
}

static void report(const muta_chain *chain, const struct naming *naming, muta_outcome *outcome)
{
    char bars[64];

    add_bars(outcome, bars, sizeof bars);
    if (outcome->had_work)
        (void)snprintf(outcome->summary, sizeof outcome->summary,
                       "%s: %.300s, %zu tone%s changed%s%s", naming->stretch, chain->text,
                       outcome->tones_changed, outcome->tones_changed == 1 ? "" : "s", bars,
                       naming->keys);
    else
        (void)snprintf(outcome->summary, sizeof outcome->summary, "%s: %.300s, nothing to change%s",
                       naming->stretch, chain->text, naming->keys);
}

/* What one run of a chain holds: each stretch of the region as it was lifted, and varied. */
struct work {
    muta_arena arena;
    MUTA_VEC(muta_passage *) lifted;
    MUTA_VEC(muta_passage *) varied;
};

static void end_work(struct work *work)
{
    for (size_t i = 0; i < work->varied.count; i++)
        muta_passage_free(work->varied.at[i]);
    for (size_t i = 0; i < work->lifted.count; i++)
        muta_passage_free(work->lifted.at[i]);
    muta_arena_clear(&work->arena);
}

/* Lifts a region and runs the passes on it, if there is something to work on. */
static muta_status vary_part(const muta_chain *chain, const muta_region *part,
                             const muta_score *score, uint64_t seed, struct work *work,
                             muta_diags *diags)
{
    muta_passage **const in = MUTA_PUSH(&work->arena, &work->lifted);

    if (!in)
        return MUTA_E_MEMORY;
    work->lifted.count--;
    MUTA_TRY(muta_passage_lift(score, part, in, diags));
    work->lifted.count++;
    if (!has_work(chain, *in))
        return MUTA_OK;
    muta_passage **const out = MUTA_PUSH(&work->arena, &work->varied);
    if (!out)
        return MUTA_E_MEMORY;
    work->varied.count--;
    MUTA_TRY(muta_chain_apply(chain, *in, seed, out, diags));
    work->varied.count++;
    return MUTA_OK;
}

static muta_status vary_region(const muta_chain *chain, const muta_region *region,
                               const muta_score *score, uint64_t seed, struct work *work,
                               muta_diags *diags)
{
    muta_region *part;
    muta_status status = MUTA_OK;

    for (size_t nth = 0; status == MUTA_OK; nth++) {
        MUTA_TRY(muta_region_part(region, nth, &part));
        if (!part)
            break;
        status = vary_part(chain, part, score, seed, work, diags);
        muta_region_free(part);
    }
    return status;
}

static muta_status splice(const muta_chain *chain, struct work *work, muta_score *score,
                          uint64_t seed, muta_outcome *outcome, muta_diags *diags)
{
    const muta_passage *const *const varied = (const void *)work->varied.at;
    muta_change change;

    if (work->varied.count == 0) {
        muta_diag_add(diags, MUTA_WARNING, MUTA_NOWHERE,
                      "there is nothing here that it could change; the music stays as it is");
        return MUTA_OK;
    }
    for (size_t i = 0; i < work->varied.count; i++)
        warn_of_harmony(varied[i], diags);
    MUTA_TRY(muta_passages_splice(varied, work->varied.count, score, &change, diags));
    outcome->had_work = true;
    outcome->tones_changed = change.tones_changed;
    outcome->bars_added = change.bars_added;
    outcome->bars_removed = change.bars_removed;
    return muta_score_sign(score, chain->text, seed);
}

static muta_status find_region(const muta_chain *chain, const muta_score *score,
                               muta_region **region, muta_diags *diags)
{
    const struct link *const first = &chain->links.at[0];

    return first->common.where ? muta_region_parse(score, first->common.where, region, diags)
                               : muta_region_default(score, first->pass->where, region);
}

muta_status muta_chain_run(const muta_chain *chain, muta_score *score, uint64_t seed,
                           muta_outcome *outcome, muta_diags *diags)
{
    muta_outcome done = {0};
    muta_region *region;
    struct work work = {.arena = {0}};

    MUTA_TRY(find_region(chain, score, &region, diags));
    struct naming naming;
    muta_status status = vary_region(chain, region, score, seed, &work, diags);
    name(chain, score, region, work.lifted.count > 1, &naming);
    if (status == MUTA_OK)
        status = splice(chain, &work, score, seed, &done, diags);
    if (status == MUTA_OK && outcome) {
        report(chain, &naming, &done);
        *outcome = done;
    }
    end_work(&work);
    muta_region_free(region);
    return status;
}
