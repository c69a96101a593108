/* lostspark_plugin.h - the boundary between the host and an ignition family plugin.
 *
 * C11, no other header than stdint.h. Only fixed-width integers, doubles (SI units, unit in the name where the
 * name is ours), UTF-8 strings and structs of these cross it. No exception, no STL type, no memory to be freed by
 * the other side.
 *
 * Ownership: every string handed out by a plugin lives until destroy() of the instance that gave it (strings of the
 * entry table: as long as the library is loaded). The host copies what it keeps.
 * Threads:   the host calls one instance from one thread at a time; different instances may run in parallel.
 * Purity:    the same arguments give the same answer; a plugin keeps no state between calls of evaluate().
 * Failure:   a function returns LS_OK or LS_FAILED; on LS_FAILED it has written one sentence to the message.
 *
 * What a family describes (docs/families.md tells it with five examples):
 *   option     what a network may choose (number of cylinders, pulse coil fitted ...)
 *   component  a replaceable or repairable item; terminals are its electrical ends
 *   parameter  a number of the physics, with healthy median, spread and scope
 *   element    a linear two-terminal element inside a component; the host puts it into its one nodal network
 *   link       two terminals that the vehicle's harness joins; the network file lists the wires and connectors of it
 *   stage      non-linear pulse physics, evaluated by the plugin for many points at once
 *   mode       one way a component fails: a set of changes of parameters
 *   repair     what cures modes of a component
 *   condition  an operating state, set-up: a reversible change of the circuit for a test
 *   test kind  a quantity somebody can read; the host makes one test per place
 *   caution, complaint
 *
 * The ids below end in /1 and are frozen: docs/interface-growth.md says what may be added and how.
 */
#ifndef LOSTSPARK_PLUGIN_H
#define LOSTSPARK_PLUGIN_H

#include <stdint.h>

#ifdef __cplusplus
extern "C" {
#endif

#if defined(_WIN32)
#define LS_EXPORT __declspec(dllexport)
#else
#define LS_EXPORT __attribute__((visibility("default")))
#endif

#define LS_ABI_MAJOR 1u
#define LS_ABI_MINOR 0u
#define LS_FAMILY_INTERFACE "lostspark.family/1"
#define LS_TEXT_LIMIT 4096 /* a string is read to this many bytes; a longer one is refused */

enum { LS_OK = 0, LS_FAILED = 1 };

/* Buffer of the caller for one sentence (NUL-terminated by the plugin, truncated to size). */
typedef struct ls_message {
  char* data;
  uint32_t size;
} ls_message;

/* One option of the network file; text exactly as written there ("2", "true", "starter"). */
typedef struct ls_setting {
  const char* id;
  const char* value;
} ls_setting;

/* ---------------------------------------------------------------------------------------------- description */

typedef struct ls_option_v1 {
  const char* id;
  const char* kind;          /* "bool", "integer" or "choice" */
  const char* default_value;
  const char* choices;       /* kind choice: values separated by '|'; kind integer: "min..max"; else "" */
  const char* description;
} ls_option_v1;

enum { LS_SCOPE_FIXED = 0, LS_SCOPE_VEHICLE = 1 };

/* A number of the physics. Healthy vehicles: log-normal around `typical`. */
typedef struct ls_parameter_v1 {
  const char* id;            /* lower_snake_case with the unit: "exciter_emf_volt" */
  const char* unit;          /* "volt", "ohm", "henry", "farad", "rpm", "second", "celsius", "one" */
  const char* description;
  double typical;            /* healthy median; > 0 */
  double log_sd;             /* sd of the natural log between healthy vehicles; 0: the same on all */
  double event_log_sd;       /* further sd of the log, redrawn at every crank or kick; 0: none */
  int32_t scope;             /* LS_SCOPE_FIXED when both spreads are 0, else LS_SCOPE_VEHICLE */
} ls_parameter_v1;

enum {
  LS_COMPONENT_PART = 0,      /* something with wires */
  LS_COMPONENT_OPERATOR = 1,  /* a switch, stand, lanyard or key left wrong */
  LS_COMPONENT_ELSEWHERE = 2  /* fuel, compression, air: not ignition */
};

typedef struct ls_component_v1 {
  const char* id;
  const char* title;         /* words of the trade, lower case: "exciter coil" */
  const char* group;         /* complaint group: SRC CON INH TRG CTL PRI SEC PLG TIM FUE CMP AIR OTH */
  int32_t kind;              /* LS_COMPONENT_... */
  int32_t price_class;       /* 1 under 10, 2 10-40, 3 40-120, 4 120-300, 5 over 300 units of money */
  int32_t stops_engine;      /* 1: part of a kill or interlock circuit (closing rule of the safety notes) */
} ls_component_v1;

typedef struct ls_terminal_v1 {
  const char* component;
  const char* id;            /* unique in the component: "source", "ground" */
  const char* din_72552;     /* terminal number, or "" */
  const char* title;
} ls_terminal_v1;

/* Terminals are written "component.terminal"; "earth" is bare engine metal, the reference of all volts. */

enum { LS_IN_OHM_TESTS = 1u, LS_IN_RUNNING = 2u };

/* Linear element between two terminals: impedance R + j 2 pi f L in series with an EMF (positive at a).
 * In ohm tests only R counts and EMFs are zero. Parameter ids; "" = zero. A switch is a resistance parameter that
 * set-ups, conditions and modes set. */
typedef struct ls_element_v1 {
  const char* id;
  const char* terminal_a;
  const char* terminal_b;
  const char* resistance_ohm;
  const char* inductance_henry;
  const char* emf_volt;       /* peak */
  const char* frequency_hertz;/* "": direct current */
  const char* frequency_factor; /* EMF and frequency scale with this parameter / its typical (cranking speed); "": not */
  uint32_t used_in;           /* LS_IN_... bits */
} ls_element_v1;

/* Shares per 1000 ignition complaints of the family for the harness items of this link, all items together; the host
 * splits them over the link's items by the exposure the network states. */
typedef struct ls_link_v1 {
  const char* id;
  const char* title;
  const char* from;           /* "component.terminal" */
  const char* to;             /* "component.terminal" or "earth" */
  const char* carries;        /* "energy", "trigger", "inhibit", "earth", "high_tension", "supply", "sense" */
  const char* group;          /* complaint group of its faults, usually CON */
  double corroded_share;      /* contact: series resistance */
  double open_share;          /* wire or contact open */
  double chafed_share;        /* wire shorted to earth */
  double corroded_mild_ohm;   /* severity range of the series resistance */
  double corroded_severe_ohm;
  double chafed_mild_ohm;     /* severity range of the short: mild is the larger resistance */
  double chafed_severe_ohm;
  int32_t stops_engine;       /* part of a kill or interlock circuit */
} ls_link_v1;

/* How often a fault shows itself, by provocation; 1 everywhere for a constant fault. */
typedef struct ls_visibility_v1 {
  double unprovoked, hot, wet, shaken, steering, loaded;
} ls_visibility_v1;

typedef struct ls_mode_v1 {
  const char* id;             /* unique in the component: "shorted_turns" */
  const char* component;
  const char* title;          /* "shorted turns" */
  const char* group;          /* complaint group; "" = the component's */
  const char* repair;         /* id of the repair that cures it */
  double share;               /* per 1000 ignition complaints of the family */
  ls_visibility_v1 visible;
  const char* how_it_fails;   /* one sentence for the technician */
} ls_mode_v1;

enum { LS_SET = 0, LS_SCALE = 1 };

/* One parameter change of a mode. Severity s in [0,1] interpolates the logarithm between mild and severe; all changes
 * of a mode share s. mild == severe: a fault without degrees. */
typedef struct ls_change_v1 {
  const char* mode;           /* "component.mode" */
  const char* parameter;
  int32_t operation;          /* LS_SET or LS_SCALE */
  double mild, severe;        /* > 0 */
} ls_change_v1;

typedef struct ls_repair_v1 {
  const char* id;             /* unique in the component: "replace", "clean" */
  const char* component;
  const char* title;          /* imperative: "replace the exciter coil" */
  const char* kind;           /* "clean", "adjust" or "replace" */
  double labour_min;          /* hands-on, without access */
  double success;             /* probability that it cures its modes */
  int32_t price_class;        /* 0: no part */
} ls_repair_v1;

enum {
  LS_NEEDS_ENGINE_OFF = 1u, LS_NEEDS_CRANK = 2u, LS_NEEDS_RUNNING = 4u,
  LS_NEEDS_HELPER = 8u, LS_NEEDS_COVERS_FITTED = 16u, LS_HOLDS_THROUGH_VISIT = 32u
};

/* Operating state or provocation. Kind "state" or "provocation". A provocation names its column of ls_visibility_v1. */
typedef struct ls_condition_v1 {
  const char* id;             /* "cranking", "hot" */
  const char* kind;
  const char* title;
  const char* visibility;     /* provocation: "hot", "wet", "shaken", "steering", "loaded"; state: "" */
  const char* instruction;    /* what the person does to get there */
  double minutes;             /* to reach it */
  uint32_t needs;             /* LS_NEEDS_... bits */
} ls_condition_v1;

typedef struct ls_setup_v1 {
  const char* id;             /* "kill_unplugged" */
  const char* title;
  const char* instruction;
  const char* tool;           /* instrument or tool id it needs, "" = none */
  double minutes;             /* to make and undo it */
  double moves_contacts;      /* 1: contacts are unplugged, which may cure or hide a contact fault */
} ls_setup_v1;

enum { LS_OPEN_TERMINAL = 0, LS_SET_PARAMETER = 1, LS_SCALE_PARAMETER = 2, LS_EXCHANGE_PARAMETERS = 3 };

/* What a set-up or condition does. LS_OPEN_TERMINAL takes the harness off that terminal. LS_EXCHANGE_PARAMETERS gives
 * `target` the value of `other` and the reverse, faults and the vehicle's own spread included: coils or plugs of two
 * cylinders trade places. */
typedef struct ls_effect_v1 {
  const char* owner;          /* "setup:kill_unplugged" or "condition:cranking" */
  int32_t operation;
  const char* target;         /* terminal or parameter */
  const char* other;          /* LS_EXCHANGE_PARAMETERS: the second parameter; else "" */
  double value;               /* LS_SET_PARAMETER, LS_SCALE_PARAMETER; else unused */
} ls_effect_v1;

/* ---------------------------------------------------------------------------------------------- stages */

typedef struct ls_stage_v1 {
  const char* id;
  const char* title;
  int32_t report_only;        /* 1: no advice depends on it; inference skips it */
} ls_stage_v1;

enum {
  LS_INPUT_PARAMETER = 0,     /* a = parameter */
  LS_INPUT_OUTPUT = 1,        /* a = "stage.output" of an earlier stage */
  LS_INPUT_LINEAR_VOLTS = 2,  /* a, b terminals: magnitude of the linear solution between them, volts */
  LS_INPUT_TERMINAL = 3       /* a = terminal; terminals come last, in order. For m of them the host appends the
                                 m (m + 1) / 2 entries, row by row, of the lower triangle of the nodal conductance
                                 matrix (siemens) of everything outside the stages seen at these terminals, earth
                                 being the reference (Kron reduction: all other nodes carry no injected current) */
};

typedef struct ls_stage_input_v1 {
  const char* stage;
  int32_t kind;
  const char* a;
  const char* b;              /* LS_INPUT_LINEAR_VOLTS only, else "" */
} ls_stage_input_v1;

enum {
  LS_OUTPUT_VALUE = 0,          /* > 0, predictions use its logarithm */
  LS_OUTPUT_MARGIN = 1,         /* natural log of have / need; the event happens where it is > 0 */
  LS_OUTPUT_TERMINAL_VOLTS = 2, /* volts of `terminal` to earth at the crest, counted in the polarity a reading has
                                   (positive = healthy polarity); through it the host finds the volts along the harness.
                                   Terminals that one current passes in opposite senses have opposite signs.
                                   Where direct sources (elements with EMF and no frequency) feed the part of the
                                   network that the terminal lies in, these are the whole volts, the sources' included:
                                   the host superposes the two between the terminals. Such a part may hold no
                                   alternating source */
  LS_OUTPUT_TERMINAL_READING = 3, /* what a meter on `terminal` itself shows, where that differs from what the harness
                                   sees there: the inductance of a short lead lies between; > 0 */
  LS_OUTPUT_TERMINAL_OHM = 4    /* source resistance behind the volts of `terminal` at their crest, ohm, > 0: a meter's
                                   load works against it. Not stated: 0 */
};

typedef struct ls_stage_output_v1 {
  const char* stage;
  const char* id;             /* unique in the stage */
  int32_t kind;
  const char* unit;
  const char* terminal;       /* LS_OUTPUT_TERMINAL_..., else "" */
  const char* description;
} ls_stage_output_v1;

/* ---------------------------------------------------------------------------------------------- tests */

enum {
  LS_READS_HARNESS_VOLTS = 0, /* volts to earth at points of a link, from a stage's terminal volts or the linear solution */
  LS_READS_HARNESS_DROP = 1,  /* volts between neighbouring points of a link */
  LS_READS_OHMS = 2,          /* resistance between two terminals (or terminal and earth), with the harness side open */
  LS_READS_OUTPUT = 3,        /* a stage output */
  LS_READS_MARGIN_WORD = 4,   /* none / irregular / steady by a margin */
  LS_READS_FINDING = 5        /* words by a table over modes: look, tug, timing mark, state walk */
};

typedef struct ls_test_kind_v1 {
  const char* id;             /* "exciter_peak" */
  const char* title;          /* "exciter coil peak" */
  int32_t reads;
  const char* unit;           /* "volt", "ohm", "kilovolt", "ampere", "rpm" or "word" */
  const char* subject;        /* link (harness), "component.terminal" (ohms, plugin-side end), "stage.output" (output,
                                 margin), component or "" (finding) */
  const char* against;        /* ohms: the other terminal or "earth"; else "" */
  const char* source;         /* harness volts and drop: stage whose terminal volts apply; "" = linear solution; several,
                                 separated by ' ': a meter that holds peaks of both signs, the largest of them shows */
  const char* dead_below;     /* margins ("stage.output", separated by ' ') that must be > 0, else the reading is zero */
  const char* switch_margin;  /* output: where this margin is < 0 ... */
  const char* switch_output;  /* ... the reading is this output instead */
  const char* condition;      /* operating state */
  const char* setups;         /* set-ups it is taken with, separated by ' '; each alternative by '|'; "" = none:
                                 "|kill_unplugged" makes two tests of each place */
  const char* instrument;     /* instrument kind: "peak_voltmeter", "ohmmeter", "multimeter", "kv_pickup",
                                 "current_pickup", "gap_tester", "eyes", "timing_light" */
  double log_sd;              /* reading scatter of a careful technician, sd of the log, instrument accuracy apart */
  double minutes;             /* own time, without access and set-up */
  double mistaken;            /* probability of a false reading */
  const char* place;          /* where, for tests that are not along the harness; link tests get it from the network */
  const char* hook_up;        /* how to connect */
  const char* low_means;
  const char* zero_means;
  const char* high_means;
  const char* cautions;       /* ids separated by ' ' */
} ls_test_kind_v1;

/* Row of a finding's table: word read with `probability` when the mode is present and shows itself. The word without any
 * listed mode present is the kind's first word; a false alarm has the probability false_alarm. */
typedef struct ls_finding_v1 {
  const char* test_kind;
  const char* mode;           /* "component.mode", "component.*", or for harness items, which the network names,
                                 "link:LINK.corroded", "link:LINK.open", "link:LINK.chafed", "link:LINK.*" */
  const char* word;           /* "found", "off_mark" ... */
  double probability;
} ls_finding_v1;

typedef struct ls_caution_v1 {
  const char* id;             /* "S01" */
  const char* signal_word;    /* DANGER, WARNING, CAUTION, NOTICE */
  const char* text;           /* hazard and consequence */
  const char* avoid;
  int32_t before_first;       /* 1: shown before the first measurement of a job */
} ls_caution_v1;

/* Likelihood of a complaint by group, relative, as in docs/complaints.md: "SRC=10 CON=8 ...". A complaint with margins
 * is computed: word none / irregular / steady of each cylinder in the normal state while cranking; `table` is then not
 * used. A cylinder's margins ("stage.output", separated by ' ') are a ladder: its
 * word is "none" where one before the last is < 0, else told by the last. "present" (irregular or steady while nothing
 * provokes the fault: the engine runs) and "steady" are not what is complained of: with them the table counts for all
 * groups as well. */
typedef struct ls_complaint_v1 {
  const char* id;             /* "no_spark" */
  const char* title;
  const char* margins;        /* cylinders separated by '|'; "" = not computed */
  const char* extent;         /* "all": every cylinder shows the word; "one", "two": so many do and the others spark
                                 better; "" = all */
  const char* word;           /* "none", "irregular", "steady", "present" or "" */
  const char* table;
} ls_complaint_v1;

/* ---------------------------------------------------------------------------------------------- interface */

typedef struct ls_instance ls_instance; /* the plugin's own, one per vehicle */

enum {
  LS_OPTIONS = 0, LS_PARAMETERS, LS_COMPONENTS, LS_TERMINALS, LS_ELEMENTS, LS_LINKS, LS_MODES, LS_CHANGES, LS_REPAIRS,
  LS_CONDITIONS, LS_SETUPS, LS_EFFECTS, LS_STAGES, LS_STAGE_INPUTS, LS_STAGE_OUTPUTS, LS_TEST_KINDS,
  LS_FINDINGS, LS_CAUTIONS, LS_COMPLAINTS, LS_TABLE_COUNT
};

typedef struct ls_family_v1 {
  uint32_t struct_size;       /* sizeof(ls_family_v1); a smaller one is refused */
  const char* id;             /* "ac_cdi" */
  const char* title;
  const char* description;
  /* Options can be read before an instance exists. */
  int32_t (*option_count)(void);
  int32_t (*option)(int32_t index, ls_option_v1* out);
  ls_instance* (*create)(const ls_setting* settings, int32_t setting_count, ls_message* message); /* null on failure */
  void (*destroy)(ls_instance*);
  /* count(t) rows of table t, constant for the life of the instance; row(t, i, out) fills the struct of table t. */
  int32_t (*count)(const ls_instance*, int32_t table);
  int32_t (*row)(const ls_instance*, int32_t table, int32_t index, void* out, ls_message*);
  /* Evaluates stage `stage` (index in LS_STAGES) at n points. inputs: n rows of all inputs in the order of
   * LS_STAGE_INPUTS of that stage (terminal block appended); outputs: n rows in the order of LS_STAGE_OUTPUTS of that
   * stage. Must fill all; every output finite. */
  int32_t (*evaluate)(const ls_instance*, int32_t stage, int32_t n, const double* inputs, double* outputs,
                      ls_message*);
} ls_family_v1;

/* The one exported symbol of a plugin: `lostspark_entry`. */
typedef struct ls_entry_v1 {
  uint32_t abi_major;         /* first field for ever */
  uint32_t abi_minor;
  uint32_t struct_size;
  const char* plugin_id;
  const char* plugin_version; /* the plugin's own, "1.0.0" */
  const void* (*query)(const char* interface_id); /* LS_FAMILY_INTERFACE -> const ls_family_v1*; unknown -> null */
} ls_entry_v1;

#ifdef __cplusplus
}
#endif
#endif
