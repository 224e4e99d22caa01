/* crew.c: two threads at one work. */
#include "base/crew.h"
#include <stdlib.h>

struct muta_crew {
    pthread_t thread;
    pthread_mutex_t lock; /* over what follows */
    pthread_cond_t changed;
    void (*work)(void *context); /* NULL: nothing to do */
    void *context;
    bool is_over;
};

/* Waits for work, or for the end: then false. */
static bool next_work(muta_crew *crew)
{
    (void)pthread_mutex_lock(&crew->lock);
    while (!crew->work && !crew->is_over)
        (void)pthread_cond_wait(&crew->changed, &crew->lock);
    const bool is_over = crew->is_over;
    (void)pthread_mutex_unlock(&crew->lock);
    return !is_over;
}

/* Says something to whoever waits. */
static void set(muta_crew *crew, void (*work)(void *context), void *context, bool is_over)
{
    (void)pthread_mutex_lock(&crew->lock);
    crew->work = work;
    crew->context = context;
    crew->is_over = is_over;
    (void)pthread_cond_signal(&crew->changed);
    (void)pthread_mutex_unlock(&crew->lock);
}

static void *serve(void *of)
{
    muta_crew *const crew = of;

    while (next_work(crew)) {
        crew->work(crew->context);
        set(crew, NULL, NULL, false);
    }
    return NULL;
}

static bool init(muta_crew *crew)
{
    if (pthread_mutex_init(&crew->lock, NULL) != 0)
        return false;
    if (pthread_cond_init(&crew->changed, NULL) == 0) {
        if (pthread_create(&crew->thread, NULL, serve, crew) == 0)
            return true;
        (void)pthread_cond_destroy(&crew->changed);
    }
    (void)pthread_mutex_destroy(&crew->lock);
    return false;
}

muta_crew *muta_crew_new(void)
{
    muta_crew *const crew = calloc(1, sizeof *crew);

    if (crew && init(crew))
        return crew;
    free(crew);
    return NULL;
}

void muta_crew_free(muta_crew *crew)
{
    if (!crew)
        return;
    set(crew, NULL, NULL, true);
    (void)pthread_join(crew->thread, NULL);
    (void)pthread_cond_destroy(&crew->changed);
    (void)pthread_mutex_destroy(&crew->lock);
    free(crew);
}

void muta_crew_start(muta_crew *crew, void (*work)(void *context), void *context)
{
    set(crew, work, context, false);
}

void muta_crew_wait(muta_crew *crew)
{
    (void)pthread_mutex_lock(&crew->lock);
    while (crew->work)
        (void)pthread_cond_wait(&crew->changed, &crew->lock);
    (void)pthread_mutex_unlock(&crew->lock);
}

struct second {
    void (*work)(void *context, bool is_beside);
    void *context;
};

static void run_second(void *of)
{
    const struct second *const second = of;

    second->work(second->context, true);
}

void muta_crew_run(muta_crew *crew, void (*work)(void *context, bool is_beside), void *context)
{
    struct second second = {work, context};

    if (crew)
        muta_crew_start(crew, run_second, &second);
    work(context, false);
    if (crew)
        muta_crew_wait(crew);
    else
        work(context, true);
}

/* ---- turns ---- */

bool muta_turns_init(muta_turns *turns)
{
    *turns = (muta_turns){.taken = 0};
    if (pthread_mutex_init(&turns->lock, NULL) != 0)
        return false;
    if (pthread_cond_init(&turns->passed, NULL) == 0)
        return true;
    (void)pthread_mutex_destroy(&turns->lock);
    return false;
}

void muta_turns_clear(muta_turns *turns)
{
    (void)pthread_cond_destroy(&turns->passed);
    (void)pthread_mutex_destroy(&turns->lock);
}

size_t muta_turns_take(muta_turns *turns)
{
    (void)pthread_mutex_lock(&turns->lock);
    const size_t piece = turns->taken++;
    (void)pthread_mutex_unlock(&turns->lock);
    return piece;
}

bool muta_turns_is_up(muta_turns *turns, size_t piece)
{
    (void)pthread_mutex_lock(&turns->lock);
    const bool is_up = turns->turn == piece;
    (void)pthread_mutex_unlock(&turns->lock);
    return is_up;
}

void muta_turns_wait(muta_turns *turns, size_t piece)
{
    (void)pthread_mutex_lock(&turns->lock);
    while (turns->turn != piece)
        (void)pthread_cond_wait(&turns->passed, &turns->lock);
    (void)pthread_mutex_unlock(&turns->lock);
}

void muta_turns_pass(muta_turns *turns)
{
    (void)pthread_mutex_lock(&turns->lock);
    turns->turn++;
    (void)pthread_cond_signal(&turns->passed);
    (void)pthread_mutex_unlock(&turns->lock);
}
