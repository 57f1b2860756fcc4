#ifndef FOAMPULSE_STUDY_QUEUE_H
#define FOAMPULSE_STUDY_QUEUE_H

#include <pthread.h>
#include <stdatomic.h>
#include <stddef.h>

/*
 * Jobs on threads, the only place that starts any. Each job is done once, by whichever thread comes to it
 * first, so jobs that write only what is theirs give the same results for any number of threads.
 */

/* What the jobs of a queue share is touched between queue_enter and queue_leave only. */
struct queue {
    pthread_mutex_t lock;
};

void queue_make(struct queue *queue);
void queue_enter(struct queue *queue);
void queue_leave(struct queue *queue);
void queue_free(struct queue *queue);

/* Threads for so many jobs: `asked`, all processors for 0, no more than jobs, at least 1. */
int queue_threads(int asked, size_t jobs);

/* Calls `work` for each job from 0 to `jobs` - 1 and returns when all are done; once *stop (NULL allowed) is
 * set, no further job is begun. A thread that cannot be started costs speed only. */
void queue_run(size_t jobs, int threads, const atomic_int *stop, void (*work)(void *context, size_t job),
               void *context);

#endif
