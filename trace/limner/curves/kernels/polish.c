/* Gauss-Newton steps of the nodes, directions and handles of paths: see curves/refine/polish.py for the method, and
 * normal.c for the equations of a segment.
 *
 * A handle belongs to one segment only and is eliminated there (Schur's complement). What is left are the place and
 * the direction of each node: a banded system, solved by Cholesky's method. Each path is taken by itself, so that it
 * comes out the same whatever it is polished together with. */

#include <stdlib.h>
#include <string.h>

#include "cubic.h"
#include "kernels.h"
#include "normal.h"

/* Longest and shortest handles in chords: beyond, a cubic bends in on itself or kinks. */
#define LONGEST_HANDLE 1.2
#define SHORTEST_HANDLE 0.03
/* Per step, a node moves at most this share of its shorter chord, and turns at most so far, radians: what is farther
 * off is not told by the equations of where it stands. */
#define LARGEST_MOVE 0.2
#define LARGEST_TURN 0.25
/* Room to move for nodes that coincide, in the size of their coordinates: above their rounding. */
#define SMALLEST_ROOM 1e-12
/* Damping at the start; a step that fails though damped by more than the second has nowhere to go. */
#define FIRST_DAMPING 1e-3
#define SETTLED_DAMPING 10.0
/* After a step that helps, damping falls by the first factor, no lower than the second number; after one that does
 * not, it grows: Levenberg and Marquardt's method, with their usual powers of ten softened. */
#define EASED 0.2
#define LEAST_DAMPING 1e-7
#define TIGHTENED 8.0
#define MOST_DAMPING 1e3
/* A path that gains less than this share of its cost by a step has settled. */
#define SETTLED_GAIN 1e-3
/* Newton steps of the feet at the start, and after each step of the curves. */
#define FIRST_FOOT_STEPS 3
#define FOOT_STEPS 2
/* With sharp weights, a distance counts by its fourth power, up to so many tolerances, and a little anyhow. */
#define SHARP_MOST 3.0
#define SHARP_LEAST 0.05

/* A path as it stands: two of each node, a cubic of each segment, the rest of each sample. */
typedef struct {
    double *place, *angle, *handle, *curves, *t, *normal, *distance;
    whole *segment;
} state;

/* One path of a set, its indices counted from its own first node, segment and sample. */
typedef struct {
    const polish_arguments *set;
    whole node, nodes, segment, segments, sample, samples;
    int sharp;
    whole *start, *end, *before, *after;
    double *base, *weights;
    double *matrix, *right; /* 8 x 8 and 8 of each segment */
    double *change;         /* 6 of each node: place, direction and handle before, direction and handle after */
    double *shorter;
    double *band, *wanted;
    whole *rank;
    state now, trial;
} path;

static double chord_of(const path *p, const double *place, whole k)
{
    const double *a = place + 2 * p->start[k], *b = place + 2 * p->end[k];
    return hypot(b[0] - a[0], b[1] - a[1]);
}

static void set_curves(const path *p, state *s)
{
    const uint8_t *straight = p->set->straight + p->segment;
    for (whole k = 0; k < p->segments; k++) {
        whole i = p->start[k], j = p->end[k];
        const double *a = s->place + 2 * i, *b = s->place + 2 * j;
        double *c = s->curves + 8 * k;
        c[0] = a[0], c[1] = a[1], c[6] = b[0], c[7] = b[1];
        if (straight[k]) {
            double x = (b[0] - a[0]) / 3.0, y = (b[1] - a[1]) / 3.0;
            c[2] = a[0] + x, c[3] = a[1] + y, c[4] = b[0] - x, c[5] = b[1] - y;
            continue;
        }
        double out = s->angle[2 * i + 1], into = s->angle[2 * j];
        double h_out = s->handle[2 * i + 1], h_into = s->handle[2 * j];
        c[2] = a[0] + h_out * cos(out), c[3] = a[1] + h_out * sin(out);
        c[4] = b[0] - h_into * cos(into), c[5] = b[1] - h_into * sin(into);
    }
}

static void set_feet(const path *p, state *s, int steps)
{
    const double *points = p->set->points + 2 * p->sample;
    for (whole i = 0; i < p->samples; i++) {
        const double *point = points + 2 * i;
        follow_foot(s->curves, p->before, p->after, point, steps, s->segment + i, s->t + i);
        distance_at(s->curves + 8 * s->segment[i], point, s->t[i], s->normal + 2 * i, s->distance + i);
    }
}

/* With sharp weights, a distance counts by its fourth power, up to some tolerances, and a little anyhow. */
static void set_weights(path *p)
{
    double most = SHARP_MOST * SHARP_MOST;
    for (whole i = 0; i < p->samples; i++) {
        double share2 = p->now.distance[i] * p->now.distance[i] * p->base[i];
        if (share2 > most)
            share2 = most;
        p->weights[i] = p->sharp ? p->base[i] * (SHARP_LEAST + share2 * share2) : p->base[i];
    }
}

static double cost_of(const path *p, const state *s)
{
    double cost = 0.0;
    for (whole i = 0; i < p->samples; i++)
        cost += p->weights[i] * s->distance[i] * s->distance[i];
    return cost;
}

static void set_equations(path *p)
{
    const state *s = &p->now;
    whole total = p->segments;
    /* The moments of a segment are summed where its matrix will be. */
    memset(p->matrix, 0, sizeof(double) * 64 * (size_t)total);
    for (whole i = 0; i < p->samples; i++)
        add_moments(p->matrix + 64 * s->segment[i], s->t[i], s->normal + 2 * i, s->distance[i], p->weights[i]);
    for (whole k = 0; k < total; k++) {
        whole i = p->start[k], j = p->end[k];
        segment_ends ends = {
            s->angle[2 * i + 1], s->handle[2 * i + 1], s->angle[2 * j], s->handle[2 * j],
            p->set->straight[p->segment + k], p->set->smooth[p->node + i], p->set->smooth[p->node + j],
        };
        double moments[MOMENTS];
        memcpy(moments, p->matrix + 64 * k, sizeof moments);
        segment_equations(&ends, s->curves + 8 * k, moments, p->matrix + 64 * k, p->right + 8 * k);
    }
}

/* Which unknowns of a segment are free: place, direction and handle of its start, and those of its end. */
static void free_ones(const path *p, whole k, double live[8])
{
    const polish_arguments *set = p->set;
    int straight = set->straight[p->segment + k];
    whole ends[2] = {p->node + p->start[k], p->node + p->end[k]};
    for (int side = 0; side < 2; side++) {
        whole node = ends[side];
        live[4 * side] = live[4 * side + 1] = !set->fixed[node];
        /* A straight line has no handles; it has a say in the direction of a smooth node. */
        live[4 * side + 2] = !set->held[2 * node + 1 - side] && (!straight || set->smooth[node]);
        live[4 * side + 3] = !straight;
    }
}

/* Mask and damp the equations of a segment, and take its handles out of them: Schur's complement. */
static void without_handles(double *matrix, double *right, const double live[8], double damping,
                            double share[2][6], double own[2])
{
    static const int node[6] = {0, 1, 2, 4, 5, 6}, handle[2] = {3, 7};
    for (int i = 0; i < 8; i++) {
        for (int j = 0; j < 8; j++)
            matrix[8 * i + j] *= live[i] * live[j];
        right[i] *= live[i];
        matrix[9 * i] *= 1.0 + damping;
    }
    double a = matrix[27], b = matrix[31], d = matrix[63];
    if (!(a > 0.0))
        a = 1.0;
    if (!(d > 0.0))
        d = 1.0;
    double scale = 1.0 / (a * d - b * b);
    double inverse[2][2] = {{d * scale, -b * scale}, {-b * scale, a * scale}};
    for (int i = 0; i < 2; i++) {
        own[i] = inverse[i][0] * right[handle[0]] + inverse[i][1] * right[handle[1]];
        for (int j = 0; j < 6; j++)
            share[i][j] = inverse[i][0] * matrix[24 + node[j]] + inverse[i][1] * matrix[56 + node[j]];
    }
    for (int i = 0; i < 6; i++) {
        double first = matrix[24 + node[i]], second = matrix[56 + node[i]];
        right[node[i]] -= first * own[0] + second * own[1];
        for (int j = 0; j < 6; j++)
            matrix[8 * node[i] + node[j]] -= first * share[0][j] + second * share[1][j];
    }
}

/* Changes of places and directions, and from them those of the handles. Whether the system could be solved. */
static int solve(path *p, double damping)
{
    static const int node[6] = {0, 1, 2, 4, 5, 6};
    whole size = 3 * p->nodes;
    memset(p->band, 0, sizeof(double) * BAND * (size_t)size);
    memset(p->wanted, 0, sizeof(double) * (size_t)size);
    for (whole k = 0; k < p->segments; k++) {
        double live[8], share[2][6], own[2];
        double *matrix = p->matrix + 64 * k, *right = p->right + 8 * k;
        free_ones(p, k, live);
        without_handles(matrix, right, live, damping, share, own);
        whole at[6];
        for (int i = 0; i < 6; i++)
            at[i] = 3 * p->rank[i < 3 ? p->start[k] : p->end[k]] + i % 3;
        for (int i = 0; i < 6; i++) {
            p->wanted[at[i]] -= right[node[i]];
            for (int j = 0; j < 6; j++)
                if (at[i] >= at[j])
                    p->band[BAND * at[i] + at[i] - at[j]] += matrix[8 * node[i] + node[j]];
        }
        /* The handles follow from the ends: what that takes is kept where the matrix was. */
        memcpy(matrix, share, sizeof share);
        memcpy(matrix + 12, own, sizeof own);
    }
    if (!solve_banded(p->band, p->wanted, size))
        return 0;
    memset(p->change, 0, sizeof(double) * 6 * (size_t)p->nodes);
    for (whole i = 0; i < p->nodes; i++) {
        const double *found = p->wanted + 3 * p->rank[i];
        double *change = p->change + 6 * i;
        change[0] = found[0], change[1] = found[1], change[2] = change[4] = found[2];
    }
    for (whole k = 0; k < p->segments; k++) {
        const double *share = p->matrix + 64 * k, *own = share + 12;
        double moved[2] = {-own[0], -own[1]};
        for (int i = 0; i < 6; i++) {
            double change = p->wanted[3 * p->rank[i < 3 ? p->start[k] : p->end[k]] + i % 3];
            moved[0] -= share[i] * change;
            moved[1] -= share[6 + i] * change;
        }
        p->change[6 * p->start[k] + 5] = moved[0];
        p->change[6 * p->end[k] + 3] = moved[1];
    }
    return 1;
}

/* The changes applied, held within reason. */
static void move(path *p)
{
    const state *now = &p->now;
    state *trial = &p->trial;
    for (whole i = 0; i < p->nodes; i++)
        p->shorter[i] = INFINITY;
    for (whole k = 0; k < p->segments; k++) {
        double chord = chord_of(p, now->place, k);
        if (chord < p->shorter[p->start[k]])
            p->shorter[p->start[k]] = chord;
        if (chord < p->shorter[p->end[k]])
            p->shorter[p->end[k]] = chord;
    }
    double worst = 1.0;
    for (whole i = 0; i < p->nodes; i++) {
        const double *change = p->change + 6 * i, *place = now->place + 2 * i;
        /* Of nodes that coincide neither may move. */
        double room = LARGEST_MOVE * p->shorter[i];
        double least = SMALLEST_ROOM * (1.0 + fmax(fabs(place[0]), fabs(place[1])));
        double need = hypot(change[0], change[1]) / fmax(room, least);
        double turn = fmax(fabs(change[2]), fabs(change[4])) / LARGEST_TURN;
        worst = fmax(worst, fmax(need, turn));
    }
    for (whole i = 0; i < p->nodes; i++) {
        const double *change = p->change + 6 * i;
        for (int side = 0; side < 2; side++) {
            trial->place[2 * i + side] = now->place[2 * i + side] + change[side] / worst;
            trial->angle[2 * i + side] = now->angle[2 * i + side] + change[2 + 2 * side] / worst;
            trial->handle[2 * i + side] = now->handle[2 * i + side] + change[3 + 2 * side] / worst;
        }
    }
    for (whole k = 0; k < p->segments; k++) {
        double chord = chord_of(p, trial->place, k);
        double low = SHORTEST_HANDLE * chord, high = LONGEST_HANDLE * chord;
        double *out = trial->handle + 2 * p->start[k] + 1, *into = trial->handle + 2 * p->end[k];
        *out = clamped(*out, low, high);
        *into = clamped(*into, low, high);
    }
}

static void polish_path(path *p, int steps)
{
    set_curves(p, &p->now);
    set_feet(p, &p->now, FIRST_FOOT_STEPS);
    set_weights(p);
    double cost = cost_of(p, &p->now), damping = FIRST_DAMPING;
    for (int step = 0; step < steps; step++) {
        set_equations(p);
        int better = 0;
        double reached = cost;
        if (solve(p, damping)) {
            move(p);
            set_curves(p, &p->trial);
            memcpy(p->trial.segment, p->now.segment, sizeof(whole) * (size_t)p->samples);
            memcpy(p->trial.t, p->now.t, sizeof(double) * (size_t)p->samples);
            set_feet(p, &p->trial, FOOT_STEPS);
            reached = cost_of(p, &p->trial);
            better = reached < cost;
        }
        if (better) {
            state old = p->now;
            p->now = p->trial;
            p->trial = old;
        }
        /* Where a damped step fails, a smaller one may not: only one that is damped hard settles a path. */
        int settled = better ? cost - reached < SETTLED_GAIN * cost : damping > SETTLED_DAMPING;
        if (settled)
            return;
        damping = better ? fmax(damping * EASED, LEAST_DAMPING) : fmin(damping * TIGHTENED, MOST_DAMPING);
        if (better && p->sharp) {
            set_weights(p);
            cost = cost_of(p, &p->now);
        } else if (better) {
            cost = reached;
        }
    }
}

/* Order of the nodes in which those joined by a segment are at most two places apart: a closed path's lie
 * there as if it were pressed flat. */
static void set_ranks(path *p)
{
    int closed = 0;
    for (whole k = 0; k < p->segments; k++)
        closed |= p->end[k] < p->start[k];
    for (whole i = 0; i < p->nodes; i++) {
        int near = i < (p->nodes + 1) / 2;
        p->rank[i] = !closed ? i : near ? 2 * i : 2 * (p->nodes - 1 - i) + 1;
    }
}

static void take(path *p)
{
    const polish_arguments *set = p->set;
    p->node = set->start[p->segment];
    whole last = p->node;
    for (whole k = 0; k < p->segments; k++) {
        whole from = set->start[p->segment + k], to = set->end[p->segment + k];
        p->node = to < p->node ? to : from < p->node ? from : p->node;
        last = to > last ? to : from > last ? from : last;
    }
    p->nodes = last - p->node + 1;
    for (whole k = 0; k < p->segments; k++) {
        whole before = set->before[p->segment + k], after = set->after[p->segment + k];
        p->start[k] = set->start[p->segment + k] - p->node;
        p->end[k] = set->end[p->segment + k] - p->node;
        p->before[k] = before < 0 ? -1 : before - p->segment;
        p->after[k] = after < 0 ? -1 : after - p->segment;
    }
    for (whole i = 0; i < p->samples; i++) {
        double tolerance = set->tolerance[p->sample + i];
        p->base[i] = 1.0 / (tolerance * tolerance);
        p->now.segment[i] = set->segment[p->sample + i] - p->segment;
        p->now.t[i] = set->t[p->sample + i];
    }
    size_t size = sizeof(double) * 2 * (size_t)p->nodes;
    memcpy(p->now.place, set->place + 2 * p->node, size);
    memcpy(p->now.angle, set->angle + 2 * p->node, size);
    memcpy(p->now.handle, set->handle + 2 * p->node, size);
    set_ranks(p);
}

static void give(const path *p)
{
    const polish_arguments *set = p->set;
    size_t size = sizeof(double) * 2 * (size_t)p->nodes;
    memcpy(set->place + 2 * p->node, p->now.place, size);
    memcpy(set->angle + 2 * p->node, p->now.angle, size);
    memcpy(set->handle + 2 * p->node, p->now.handle, size);
    for (whole i = 0; i < p->samples; i++) {
        set->segment[p->sample + i] = p->now.segment[i] + p->segment;
        set->t[p->sample + i] = p->now.t[i];
    }
}

/* The memory that any of the paths may need, cut into its parts. */
static double *room_for(path *p, whole nodes, whole segments, whole samples)
{
    size_t n = (size_t)nodes, s = (size_t)segments, m = (size_t)samples;
    size_t doubles = 2 * (6 * n + 8 * s + 4 * m) + 2 * m + 72 * s + (6 + 1 + 3 * BAND + 3) * n;
    size_t wholes = 2 * m + 4 * s + n;
    double *room = malloc(sizeof(double) * doubles + sizeof(whole) * wholes + 1);
    if (!room)
        return NULL;
    double *next = room;
    whole *numbers = (whole *)(room + doubles);
    state *states[2] = {&p->now, &p->trial};
    for (int k = 0; k < 2; k++) {
        state *at = states[k];
        at->place = next, next += 2 * n;
        at->angle = next, next += 2 * n;
        at->handle = next, next += 2 * n;
        at->curves = next, next += 8 * s;
        at->t = next, next += m;
        at->normal = next, next += 2 * m;
        at->distance = next, next += m;
        at->segment = numbers, numbers += m;
    }
    p->base = next, next += m;
    p->weights = next, next += m;
    p->matrix = next, next += 64 * s;
    p->right = next, next += 8 * s;
    p->change = next, next += 6 * n;
    p->shorter = next, next += n;
    p->band = next, next += 3 * BAND * n;
    p->wanted = next;
    p->start = numbers, numbers += s;
    p->end = numbers, numbers += s;
    p->before = numbers, numbers += s;
    p->after = numbers, numbers += s;
    p->rank = numbers;
    return room;
}

int polish_paths(const polish_arguments *set)
{
    whole segments = set->rows[SEGMENTS], samples = set->rows[SAMPLES];
    path p = {.set = set, .sharp = set->sharp != 0};
    double *room = room_for(&p, set->rows[NODES], segments, samples);
    if (!room)
        return 0;
    for (whole segment = 0, sample = 0; segment < segments;) {
        whole to = segment, until = sample;
        while (to < segments && set->path[to] == set->path[segment])
            to++;
        while (until < samples && set->segment[until] < to)
            until++;
        p.segment = segment, p.segments = to - segment;
        p.sample = sample, p.samples = until - sample;
        take(&p);
        polish_path(&p, (int)set->steps);
        give(&p);
        segment = to, sample = until;
    }
    free(room);
    return 1;
}
