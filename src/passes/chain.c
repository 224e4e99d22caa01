/* chain.c: a line of passes, parsed and run: each on what the one before gave back. */
#include "passes/chain.h"
#include "base/text.h"
#include "mutanza/limits.h"
#include "score/texture.h"
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum {
    WORD = 512
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

static muta_status set_common(struct parse *parse, muta_link *link, const muta_param *param,
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

static muta_status check_excluded(struct parse *parse, const muta_link *link)
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

static muta_status read_key(struct parse *parse, muta_link *link, char *word)
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

static muta_status add_link(struct parse *parse, const char *name, muta_link **link)
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
    muta_link *link = NULL;

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

unsigned muta_chain_needs(const muta_chain *chain)
{
    unsigned needs = 0;

    for (size_t i = 0; i < chain->links.count; i++)
        needs |= chain->links.at[i].pass->needs;
    return needs;
}

unsigned muta_chain_common_effect(const muta_chain *chain)
{
    unsigned effect = ~0U;

    for (size_t i = 0; i < chain->links.count; i++)
        effect &= chain->links.at[i].pass->effect;
    return effect;
}

unsigned muta_chain_common_answer(const muta_chain *chain)
{
    unsigned answer = ~0U;

    for (size_t i = 0; i < chain->links.count; i++)
        answer &= chain->links.at[i].pass->answer;
    return answer;
}

muta_others muta_chain_others(const muta_chain *chain)
{
    muta_others others = MUTA_OTHERS_REST;

    for (size_t i = 0; i < chain->links.count; i++)
        if (chain->links.at[i].pass->effect & MUTA_CHANGES_LENGTH)
            others = (muta_others)chain->links.at[i].common.others;
    return others;
}

/* Runs a pass, and sees to the tones that it is to keep. */
static muta_status run_link(const muta_link *link, const muta_passage *in, uint64_t seed,
                            bool *kept, muta_passage *out, muta_diags *diags)
{
    const muta_call call = {
        .in = in,
        .out = out,
        .args = link->args,
        .keys = (muta_keys)link->common.keys,
        .others = (muta_others)link->common.others,
        .is_placed = link->common.where != NULL,
        .kept = kept,
        .seed = seed,
        .pick = link->common.pick > 0 ? (size_t)link->common.pick : 1,
        .diags = diags,
    };

    if (kept)
        MUTA_TRY(muta_keep_find(in, link->common.keep, kept, diags));
    MUTA_TRY(link->pass->run(&call));
    MUTA_TRY(muta_passage_settle(out));
    return kept && !(link->pass->effect & MUTA_DIVIDES_TONES) ? muta_keep(in, kept, out) : MUTA_OK;
}

static muta_status apply_link(const muta_link *link, const muta_passage *in, uint64_t seed,
                              muta_passage **out, muta_diags *diags)
{
    bool *const kept =
        link->common.keep ? calloc(muta_passage_work(in).event_count + 1, sizeof *kept) : NULL;

    if (link->common.keep && !kept)
        return MUTA_E_MEMORY;
    muta_status status = muta_passage_new_like(in, out);
    if (status == MUTA_OK) {
        status = run_link(link, in, seed, kept, *out, diags);
        if (status != MUTA_OK)
            muta_passage_free(*out);
    }
    free(kept);
    return status;
}

/* A stretch that is only a pick-up is no music to be said again. */
static bool is_upbeat(const muta_passage *stretch)
{
    return stretch->grid.count == 1 && stretch->grid.at[0].old != MUTA_NO_BAR &&
           muta_bar_is_end(stretch->score, stretch->grid.at[0].old);
}

static muta_status apply_to_stretch(const muta_link *link, const muta_passage *stretch,
                                    uint64_t seed, muta_passage **varied, muta_diags *diags)
{
    if (!(link->pass->effect & MUTA_RESTATES) || !is_upbeat(stretch))
        return apply_link(link, stretch, seed, varied, diags);
    MUTA_TRY(muta_passage_new_like(stretch, varied));
    muta_status status = muta_passage_append(*varied, stretch, MUTA_ZERO, NULL);
    if (status == MUTA_OK)
        status = muta_passage_settle(*varied);
    if (status != MUTA_OK)
        muta_passage_free(*varied);
    return status;
}

/* What moves time is done between the edges of repeats, each stretch by itself. */
static muta_status apply_by_stretch(const muta_link *link, const muta_passage *in, uint64_t seed,
                                    muta_passage *out, muta_diags *diags)
{
    /* All that went in comes out as a rule, stretch by stretch. */
    muta_status status = muta_passage_make_room(out, in);

    for (size_t i = 0; status == MUTA_OK && i < muta_passage_stretch_count(in); i++) {
        muta_passage *stretch;
        muta_passage *varied;
        MUTA_TRY(muta_passage_take_stretch(in, i, &stretch));
        muta_passage_number_behind(stretch, out);
        status = muta_passage_settle(stretch);
        if (status == MUTA_OK)
            status = apply_to_stretch(link, stretch, seed, &varied, diags);
        if (status == MUTA_OK) {
            status = muta_passage_add_stretch(out, i, varied);
            muta_passage_free(varied);
        }
        muta_passage_free(stretch);
    }
    return status == MUTA_OK ? muta_passage_settle(out) : status;
}

/* In test builds what each pass gives back is looked over. */
static muta_status look_over(const muta_link *link, const muta_passage *out,
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

static muta_status apply_step(const muta_link *link, const muta_passage *in, uint64_t seed,
                              muta_passage **out, muta_diags *diags)
{
    if (!(link->pass->effect & MUTA_MOVES_TIME) || muta_passage_stretch_count(in) < 2)
        return apply_link(link, in, seed, out, diags);
    MUTA_TRY(muta_passage_new_like(in, out));
    const muta_status status = apply_by_stretch(link, in, seed, *out, diags);
    if (status != MUTA_OK)
        muta_passage_free(*out);
    return status;
}

muta_status muta_chain_answer(const muta_chain *chain, const muta_passage *in,
                              const muta_take *take, muta_passage **out, muta_diags *diags)
{
    const muta_passage *from = in;
    muta_passage *made = NULL;

    for (size_t i = 0; i < chain->links.count; i++) {
        muta_passage *const before = made;
        muta_link link = chain->links.at[i];
        if (i + 1 == chain->links.count && take->pick > 0)
            link.common.pick = (int64_t)take->pick;
        muta_status status = apply_step(&link, from, take->seed, &made, diags);
        muta_passage_free(before);
        MUTA_TRY(status);
        status = look_over(&link, made, in, diags);
        if (status != MUTA_OK) {
            muta_passage_free(made);
            return status;
        }
        from = made;
    }
    *out = made;
    return MUTA_OK;
}

muta_status muta_chain_apply(const muta_chain *chain, const muta_passage *in, uint64_t seed,
                             muta_passage **out, muta_diags *diags)
{
    const muta_take take = {.seed = seed};

    return muta_chain_answer(chain, in, &take, out, diags);
}
