/* passes.c: lists the passes, or documents one, from the registry's rows. */
#include "cli.h"
#include <stdio.h>
#include <stdlib.h>

static void print_param(const muta_param *param)
{
    char words[512];

    (void)muta_param_words(param, words, sizeof words);
    printf("  %s=%s", param->name, words[0] ? words : muta_param_form(param));
    if (param->otherwise)
        printf(" <%s>", param->otherwise);
    printf("\n      %s\n", param->help);
}

static void print_pass(const muta_pass *pass)
{
    static const char *const wheres[] = {
        [MUTA_EVERYTHING] = "everything",
        [MUTA_TUNE] = "the tune",
        [MUTA_TUNE_IN_PARALLEL] = "the tune and what goes in parallel with it",
        [MUTA_TUNE_TOGETHER] = "the tune and what strikes with it",
        [MUTA_FIRST_BAR] = "the first full bar of the tune",
        [MUTA_MOTIF] = "the tune's best motif",
    };
    const muta_param *common;

    printf("%s: %s\n\n", pass->name, pass->summary);
    for (size_t i = 0; i < pass->param_count; i++)
        print_param(&pass->params[i]);
    for (size_t i = 0; (common = muta_pass_common_param(pass, i)); i++)
        print_param(common);
    printf("\nWithout where= it works on %s.\nIt keeps: %s\n", wheres[pass->where], pass->keeps);
}

static void print_keys(const muta_pass *pass)
{
    for (size_t i = 0; i < pass->param_count; i++)
        printf("%s%s=%s%s%s", i ? " " : "", pass->params[i].name,
               pass->params[i].otherwise ? "<" : "",
               pass->params[i].otherwise ? pass->params[i].otherwise : "",
               pass->params[i].otherwise ? ">" : "");
}

static void print_list(void)
{
    printf("%-8s  %-12s  %-32s  %s\n", "group", "pass", "what it does", "keys <default>");
    for (size_t i = 0; i < muta_pass_count(); i++) {
        const muta_pass *const pass = muta_pass_at(i);
        printf("%-8s  %-12s  %-32s  ", pass->group, pass->name, pass->summary);
        print_keys(pass);
        printf("\n");
    }
}

static muta_status run(const muta_verb_call *call)
{
    const muta_pass *pass = NULL;
    char *text;

    if (call->word_count > 0) {
        /* The chain's parser names the nearest pass when there is none of this name. */
        muta_chain *chain;
        MUTA_TRY(muta_chain_parse(call->words[0], &chain, call->diags));
        muta_chain_free(chain);
        pass = muta_pass_find(call->words[0]);
    }
    if (call->options.json) {
        MUTA_TRY(muta_pass_print_json(pass, &text));
        (void)fputs(text, stdout);
        free(text);
    } else if (pass) {
        print_pass(pass);
    } else {
        print_list();
    }
    return MUTA_OK;
}

const muta_verb muta_verb_passes = {
    .name = "passes",
    .synopsis = "passes [options] [NAME]",
    .summary = "lists the passes, or documents one",
    .run = run,
};
