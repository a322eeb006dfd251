/* What Python sees of the loops. Arrays come by keyword, as contiguous buffers, and are checked for their types,
 * sizes and indices by the table in border.h; the interpreter is released while a loop runs. */

#define PY_SSIZE_T_CLEAN
#define Py_LIMITED_API 0x030B0000
#include <Python.h>
#include <string.h>

#include "kernels.h"

#define MOST_BUFFERS 20

/* The arguments of one call as they are taken, one after the other; after a fault, the others are left. */
typedef struct {
    PyObject *keywords;
    Py_buffer buffers[MOST_BUFFERS];
    int taken, arrays, faulty;
    whole rows[DIMENSIONS]; /* -1: not counted yet */
} call;

static void begin(call *c, PyObject *keywords)
{
    c->keywords = keywords;
    c->taken = c->arrays = c->faulty = 0;
    for (int k = 0; k < DIMENSIONS; k++)
        c->rows[k] = -1;
}

static void let_go(call *c)
{
    while (c->arrays)
        PyBuffer_Release(&c->buffers[--c->arrays]);
}

/* The argument of a name, borrowed; NULL where there is none, or after a fault. */
static PyObject *argument(call *c, const char *name)
{
    if (c->faulty)
        return NULL;
    PyObject *given = c->keywords ? PyDict_GetItemString(c->keywords, name) : NULL;
    c->faulty = !given;
    c->taken++;
    if (!given)
        PyErr_Format(PyExc_TypeError, "the array or number %s is missing", name);
    return given;
}

static const char double_format[] = "d", whole_format[] = "lq", flag_format[] = "?";

/* Whether entries are of the type that is wanted; of whole numbers there are two that may have the same size. */
static int is_typed(const Py_buffer *buffer, const char *formats, Py_ssize_t size)
{
    const char *format = buffer->format;
    return buffer->itemsize == size && format && format[0] && !format[1] && strchr(formats, format[0]) != NULL;
}

static int is_sized(const Py_buffer *buffer, Py_ssize_t columns, whole rows)
{
    return buffer->ndim >= 1 && buffer->shape[0] == rows && buffer->len == rows * columns * buffer->itemsize;
}

static int is_within(const Py_buffer *buffer, whole least, whole end)
{
    const whole *index = buffer->buf;
    for (Py_ssize_t k = 0; k < buffer->len / (Py_ssize_t)sizeof(whole); k++)
        if (index[k] < least || index[k] >= end)
            return 0;
    return 1;
}

/* Take an array; see border.h for what is said of it. */
static void *take_array(call *c, const char *name, const char *formats, size_t size, int writable, int columns,
                        int dimension, whole least, int end)
{
    PyObject *given = argument(c, name);
    if (!given)
        return NULL;
    Py_buffer *buffer = &c->buffers[c->arrays];
    int flags = PyBUF_ND | PyBUF_FORMAT | (writable ? PyBUF_WRITABLE : 0);
    c->faulty = PyObject_GetBuffer(given, buffer, flags) != 0;
    if (c->faulty)
        return NULL;
    c->arrays++;
    c->faulty = 1;
    if (c->rows[dimension] < 0 && buffer->ndim >= 1)
        c->rows[dimension] = buffer->shape[0];
    if (!is_typed(buffer, formats, (Py_ssize_t)size))
        PyErr_Format(PyExc_TypeError, "%s has entries of another type than is needed", name);
    else if (!is_sized(buffer, columns, c->rows[dimension]))
        PyErr_Format(PyExc_ValueError, "%s has another size than %lld rows of %d", name,
                     (long long)c->rows[dimension], columns);
    else if (end != ANY && !is_within(buffer, least, c->rows[end]))
        PyErr_Format(PyExc_IndexError, "%s has an index that lies outside", name);
    else
        c->faulty = 0;
    return buffer->buf;
}

static double take_double(call *c, const char *name)
{
    PyObject *given = argument(c, name);
    double value = given ? PyFloat_AsDouble(given) : 0.0;
    c->faulty = c->faulty || PyErr_Occurred();
    return value;
}

static whole take_whole(call *c, const char *name)
{
    PyObject *given = argument(c, name);
    whole value = given ? PyLong_AsLongLong(given) : 0;
    c->faulty = c->faulty || PyErr_Occurred();
    return value;
}

/* Whether all was taken, and there was nothing else; if not, an error is set and what was taken is let go. */
static int is_whole(call *c, PyObject *arguments)
{
    Py_ssize_t given = PyTuple_Size(arguments) + (c->keywords ? PyDict_Size(c->keywords) : 0);
    if (!c->faulty && given != c->taken) {
        PyErr_Format(PyExc_TypeError, "%zd arguments where %d are needed, by their names", given, c->taken);
        c->faulty = 1;
    }
    if (c->faulty)
        let_go(c);
    return !c->faulty;
}

static PyObject *refuse(call *c, const char *sentence)
{
    let_go(c);
    PyErr_SetString(PyExc_ValueError, sentence);
    return NULL;
}

/* `polish_taken` and so on: takes all arguments of a loop by its table. */
#define TAKE_READ(type, name, columns, rows, least, end) \
    to->name = take_array(c, #name, type##_format, sizeof(type), 0, columns, rows, least, end);
#define TAKE_WRITTEN(type, name, columns, rows, least, end) \
    to->name = take_array(c, #name, type##_format, sizeof(type), 1, columns, rows, least, end);
#define TAKE_NUMBER(type, name) to->name = take_##type(c, #name);
#define DEFINE_TAKEN(loop, TABLE)                                                                      \
    static int loop##_taken(call *c, PyObject *arguments, PyObject *keywords, loop##_arguments *to) \
    {                                                                                                  \
        begin(c, keywords);                                                                            \
        TABLE(TAKE_READ, TAKE_WRITTEN, TAKE_NUMBER)                                                    \
        memcpy(to->rows, c->rows, sizeof c->rows);                                                     \
        return is_whole(c, arguments);                                                                 \
    }
LOOPS(DEFINE_TAKEN)

/* Whether each span ends after it starts, and the places are those that the loops look at. */
static int are_spans(const whole *rows, const whole *first, const whole *last)
{
    if (rows[PLACES] != SEEN)
        return 0;
    for (whole k = 0; k < rows[SPANS]; k++)
        if (first[k] >= last[k])
            return 0;
    return 1;
}

static PyObject *span_errors(PyObject *self, PyObject *arguments, PyObject *keywords)
{
    (void)self;
    call c;
    span_errors_arguments a;
    if (!span_errors_taken(&c, arguments, keywords, &a))
        return NULL;
    whole spans = a.rows[SPANS];
    if (!are_spans(a.rows, a.first, a.last))
        return refuse(&c, "a span ends where it starts or before, or is seen at other places");
    Py_BEGIN_ALLOW_THREADS
    const span_task task = {a.points, a.tolerance, a.rows[SAMPLES], a.linear};
    for (whole k = 0; k < spans; k++)
        a.errors[k] = span_error(&task, a.first[k], a.last[k]);
    Py_END_ALLOW_THREADS
    let_go(&c);
    Py_RETURN_NONE;
}

static PyObject *fit_spans(PyObject *self, PyObject *arguments, PyObject *keywords)
{
    (void)self;
    call c;
    fit_spans_arguments a;
    if (!fit_spans_taken(&c, arguments, keywords, &a))
        return NULL;
    whole spans = a.rows[SPANS];
    if (!are_spans(a.rows, a.first, a.last))
        return refuse(&c, "a span ends where it starts or before, or is seen at other places");
    Py_BEGIN_ALLOW_THREADS
    const span_task task = {a.points, NULL, a.rows[SAMPLES], a.linear};
    for (whole k = 0; k < spans; k++)
        fit_span(&task, a.first[k], a.last[k], a.cubics + 8 * k);
    Py_END_ALLOW_THREADS
    let_go(&c);
    Py_RETURN_NONE;
}

/* Whether each path's segments and samples follow each other, and no neighbour is another path's. */
static int is_grouped(const polish_arguments *a)
{
    for (whole k = 0; k < a->rows[SEGMENTS]; k++) {
        if (k && a->path[k] < a->path[k - 1])
            return 0;
        if (a->before[k] >= 0 && a->path[a->before[k]] != a->path[k])
            return 0;
        if (a->after[k] >= 0 && a->path[a->after[k]] != a->path[k])
            return 0;
    }
    for (whole i = 1; i < a->rows[SAMPLES]; i++)
        if (a->path[a->segment[i]] < a->path[a->segment[i - 1]])
            return 0;
    return 1;
}

static PyObject *polish(PyObject *self, PyObject *arguments, PyObject *keywords)
{
    (void)self;
    call c;
    polish_arguments a;
    if (!polish_taken(&c, arguments, keywords, &a))
        return NULL;
    if (!is_grouped(&a))
        return refuse(&c, "the segments or samples of a path do not follow each other");
    int done;
    Py_BEGIN_ALLOW_THREADS
    done = polish_paths(&a);
    Py_END_ALLOW_THREADS
    let_go(&c);
    if (!done)
        return PyErr_NoMemory();
    Py_RETURN_NONE;
}

static PyObject *follow_feet(PyObject *self, PyObject *arguments, PyObject *keywords)
{
    (void)self;
    call c;
    follow_feet_arguments a;
    if (!follow_feet_taken(&c, arguments, keywords, &a))
        return NULL;
    Py_BEGIN_ALLOW_THREADS
    for (whole i = 0; i < a.rows[SAMPLES]; i++)
        follow_foot(a.curves, a.before, a.after, a.points + 2 * i, (int)a.steps, a.segment + i, a.t + i);
    Py_END_ALLOW_THREADS
    let_go(&c);
    Py_RETURN_NONE;
}

static PyObject *distances(PyObject *self, PyObject *arguments, PyObject *keywords)
{
    (void)self;
    call c;
    distances_arguments a;
    if (!distances_taken(&c, arguments, keywords, &a))
        return NULL;
    Py_BEGIN_ALLOW_THREADS
    for (whole i = 0; i < a.rows[SAMPLES]; i++)
        distance_at(a.curves + 8 * a.segment[i], a.points + 2 * i, a.t[i], a.normal + 2 * i, a.distance + i);
    Py_END_ALLOW_THREADS
    let_go(&c);
    Py_RETURN_NONE;
}

/* Whether fences part so many things into stretches of at least so many each. */
static int are_fences(const whole *first, whole fences, whole things, whole least)
{
    if (fences < 1 || first[0] != 0 || first[fences - 1] != things)
        return 0;
    for (whole k = 1; k < fences; k++)
        if (first[k] - first[k - 1] < least)
            return 0;
    return 1;
}

static PyObject *nearest(PyObject *self, PyObject *arguments, PyObject *keywords)
{
    (void)self;
    call c;
    nearest_arguments a;
    if (!nearest_taken(&c, arguments, keywords, &a))
        return NULL;
    if (a.rows[FENCES] != a.rows[PATHS] + 1 || !are_fences(a.first, a.rows[FENCES], a.rows[SEGMENTS], 1))
        return refuse(&c, "a path has no segment, or segments belong to no path");
    Py_BEGIN_ALLOW_THREADS
    for (whole i = 0; i < a.rows[SAMPLES]; i++) {
        whole mine = a.owner[i], count = a.first[mine + 1] - a.first[mine];
        nearest_on_path(a.curves + 8 * a.first[mine], count, a.closed[mine], a.points + 2 * i, (int)a.steps, a.u + i,
                        a.squared + i);
    }
    Py_END_ALLOW_THREADS
    let_go(&c);
    Py_RETURN_NONE;
}

static PyObject *nearest_chords(PyObject *self, PyObject *arguments, PyObject *keywords)
{
    (void)self;
    call c;
    nearest_chords_arguments a;
    if (!nearest_chords_taken(&c, arguments, keywords, &a))
        return NULL;
    if (!are_fences(a.first, a.rows[FENCES], a.rows[VERTICES], 2))
        return refuse(&c, "a polyline has no chord, or vertices belong to no polyline");
    for (whole i = 0; i < a.rows[SAMPLES]; i++)
        if (a.owner[i] > a.rows[FENCES] - 2)
            return refuse(&c, "a point belongs to no polyline");
    int done;
    Py_BEGIN_ALLOW_THREADS
    done = find_nearest_chords(&a);
    Py_END_ALLOW_THREADS
    let_go(&c);
    if (!done)
        return PyErr_NoMemory();
    Py_RETURN_NONE;
}

/* Returns how many there are. */
static PyObject *find_corners(PyObject *self, PyObject *arguments, PyObject *keywords)
{
    (void)self;
    call c;
    find_corners_arguments a;
    if (!find_corners_taken(&c, arguments, keywords, &a))
        return NULL;
    whole many;
    Py_BEGIN_ALLOW_THREADS
    many = corners_of(&a);
    Py_END_ALLOW_THREADS
    let_go(&c);
    return many < 0 ? PyErr_NoMemory() : PyLong_FromLongLong(many);
}

static PyObject *calm(PyObject *self, PyObject *arguments, PyObject *keywords)
{
    (void)self;
    call c;
    calm_arguments a;
    if (!calm_taken(&c, arguments, keywords, &a))
        return NULL;
    int done;
    Py_BEGIN_ALLOW_THREADS
    done = calm_line(&a);
    Py_END_ALLOW_THREADS
    let_go(&c);
    if (!done)
        return PyErr_NoMemory();
    Py_RETURN_NONE;
}

/* Signatures, as Python's `inspect` reads them, are made from the table as well. */
#define NAME(type, name, columns, rows, least, end) ", " #name
#define NUMBER_NAME(type, name) ", " #name
#define SIGNATURE(loop, TABLE) #loop "($module, *" TABLE(NAME, NAME, NUMBER_NAME) ")\n--\n\nSee border.h."
#define METHOD(loop, TABLE) \
    {#loop, (PyCFunction)(void (*)(void))loop, METH_VARARGS | METH_KEYWORDS, SIGNATURE(loop, TABLE)},

static PyMethodDef methods[] = {LOOPS(METHOD){NULL, NULL, 0, NULL}};

static int add_digest(PyObject *module)
{
    return PyModule_AddStringConstant(module, "source_digest", SOURCE_DIGEST);
}

static PyModuleDef_Slot slots[] = {{Py_mod_exec, add_digest}, {0, NULL}};

static PyModuleDef definition = {
    .m_base = PyModuleDef_HEAD_INIT,
    .m_name = "limner.curves.kernels._compiled",
    .m_doc = "The loops of the curve fit, compiled.",
    .m_methods = methods,
    .m_slots = slots,
};

PyMODINIT_FUNC PyInit__compiled(void)
{
    return PyModuleDef_Init(&definition);
}
