/*
 * crew.h: two threads at one work. The second one is kept while there may be more for it, since
 * some systems take longer to begin a thread than the work takes. Knows no music.
 */
#ifndef BASE_CREW_H
#define BASE_CREW_H

#include <pthread.h>
#include <semaphore.h>
#include <stdbool.h>
#include <stddef.h>

/* Pieces of a work, which are taken one by one and handed in in order. */
typedef struct muta_turns {
    pthread_mutex_t lock;
    pthread_cond_t passed;
    size_t taken;
    size_t turn; /* the piece that may be handed in */
} muta_turns;

/* A thread that waits for work. Owner: whoever called new. */
typedef struct muta_crew muta_crew;

/* NULL when the system has no thread to give. */
muta_crew *muta_crew_new(void);
/* Ends the thread, which has nothing to do. Takes NULL. */
void muta_crew_free(muta_crew *crew);
/* Waits for a semaphore, whatever signals come meanwhile. */
void muta_crew_await(sem_t *semaphore);
/* Has the thread, which has nothing to do, call work(context). */
void muta_crew_start(muta_crew *crew, void (*work)(void *context), void *context);
/* Waits until it has done so. */
void muta_crew_wait(muta_crew *crew);
/* Calls work(context, false) here and work(context, true) in the thread, and waits for both;
 * without a crew (NULL) one after the other. */
void muta_crew_run(muta_crew *crew, void (*work)(void *context, bool is_beside), void *context);

/* False when the system has no lock to give. */
bool muta_turns_init(muta_turns *turns);
void muta_turns_clear(muta_turns *turns);
/* The next piece that nobody has, from 0. */
size_t muta_turns_take(muta_turns *turns);
/* Whether all pieces before this one are handed in. */
bool muta_turns_is_up(muta_turns *turns, size_t piece);
/* Waits until they are: whoever has one of them is at work on it. */
void muta_turns_wait(muta_turns *turns, size_t piece);
/* Says that the piece whose turn it is has been handed in. */
void muta_turns_pass(muta_turns *turns);

#endif
