/* crew.c: two threads at one work. */
#include "base/crew.h"
#include <errno.h>
#include <stdlib.h>

struct muta_crew {
    pthread_t thread;
    sem_t given; /* there is work, or the end */
    sem_t done;
    void (*work)(void *context); /* NULL: the end */
    void *context;
};

void muta_crew_await(sem_t *semaphore)
{
    while (sem_wait(semaphore) != 0 && errno == EINTR)
        ;
}

static void *serve(void *of)
{
    muta_crew *const crew = of;

    for (muta_crew_await(&crew->given); crew->work; muta_crew_await(&crew->given)) {
        crew->work(crew->context);
        (void)sem_post(&crew->done);
    }
    return NULL;
}

static bool init(muta_crew *crew)
{
    if (sem_init(&crew->given, 0, 0) != 0)
        return false;
    if (sem_init(&crew->done, 0, 0) == 0) {
        if (pthread_create(&crew->thread, NULL, serve, crew) == 0)
            return true;
        (void)sem_destroy(&crew->done);
    }
    (void)sem_destroy(&crew->given);
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
    muta_crew_start(crew, NULL, NULL);
    (void)pthread_join(crew->thread, NULL);
    (void)sem_destroy(&crew->done);
    (void)sem_destroy(&crew->given);
    free(crew);
}

void muta_crew_start(muta_crew *crew, void (*work)(void *context), void *context)
{
    crew->work = work;
    crew->context = context;
    (void)sem_post(&crew->given);
}

void muta_crew_wait(muta_crew *crew)
{
    muta_crew_await(&crew->done);
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
    (void)pthread_mutex_unlock(&turns->lock);
    (void)pthread_cond_signal(&turns->passed);
}
