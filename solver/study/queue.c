#include "solver/study/queue.h"

#include <unistd.h>

enum { THREADS_MOST = 256 };

/* What the threads of one queue_run take from. */
struct supply {
    size_t jobs;
    atomic_size_t next;
    const atomic_int *stop;
    void (*work)(void *context, size_t job);
    void *context;
};

void queue_make(struct queue *queue)
{
    pthread_mutex_init(&queue->lock, NULL);
}

void queue_enter(struct queue *queue)
{
    pthread_mutex_lock(&queue->lock);
}

void queue_leave(struct queue *queue)
{
    pthread_mutex_unlock(&queue->lock);
}

void queue_free(struct queue *queue)
{
    pthread_mutex_destroy(&queue->lock);
}

int queue_threads(int asked, size_t jobs)
{
    long count = asked > 0 ? asked : sysconf(_SC_NPROCESSORS_ONLN);
    count = count > THREADS_MOST ? THREADS_MOST : count;
    count = (size_t)count > jobs ? (long)jobs : count;
    return count < 1 ? 1 : (int)count;
}

static void *take(void *argument)
{
    struct supply *supply = argument;
    for (;;) {
        size_t job = atomic_fetch_add(&supply->next, 1);
        if (job >= supply->jobs || (supply->stop && *supply->stop))
            return NULL;
        supply->work(supply->context, job);
    }
}

/* The calling thread works too. */
void queue_run(size_t jobs, int threads, const atomic_int *stop, void (*work)(void *context, size_t job),
               void *context)
{
    pthread_t handles[THREADS_MOST];
    struct supply supply = {.jobs = jobs, .stop = stop, .work = work, .context = context};
    int started = 0;
    while (started < threads - 1 && started < THREADS_MOST &&
           pthread_create(&handles[started], NULL, take, &supply) == 0)
        started++;
    take(&supply);
    for (int i = 0; i < started; i++)
        pthread_join(handles[i], NULL);
}
