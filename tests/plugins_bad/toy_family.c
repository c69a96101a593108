/* A family of three parts - source, switch, consumer - for the tests of plugin loading. Written in C11 on the header
 * alone. Compiled honest, and once for each kind of lie (LIE_... below; tests/plugins_bad/CMakeLists.txt). */
#include <math.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "lostspark_plugin.h"

#ifdef LIE_MISSING_SYMBOL
#define ENTRY_NAME lostspark_entrance
#else
#define ENTRY_NAME lostspark_entry
#endif

struct ls_instance {
  int two_switches;
};

#ifdef LIE_ENDLESS_TEXT
static char endless[3 * LS_TEXT_LIMIT];
#endif

/* ------------------------------------------------------------------------------------------------ tables */

static const ls_option_v1 options[] = {
    {"switches", "integer", "1", "1..2", "number of stop switches"},
    {"lamp", "bool", "false", "", "a lamp beside the consumer"},
#ifdef LIE_OPTION_DEFAULT
    {"mood", "choice", "sour", "calm|merry", "a default outside its choices"},
#else
    {"mood", "choice", "calm", "calm|merry", "nothing depends on it"},
#endif
};

static const ls_parameter_v1 parameters[] = {
#if defined(LIE_NAN_TYPICAL)
    {"emf_volt", "volt", "source, peak", NAN, 0.1, 0.05, LS_SCOPE_VEHICLE},
#elif defined(LIE_NEGATIVE_SPREAD)
    {"emf_volt", "volt", "source, peak", 100, -0.1, 0.05, LS_SCOPE_VEHICLE},
#else
    {"emf_volt", "volt", "source, peak", 100, 0.1, 0.05, LS_SCOPE_VEHICLE},
#endif
    {"source_ohm", "ohm", "source winding", 50, 0.02, 0, LS_SCOPE_VEHICLE},
    {"frequency_hertz", "hertz", "at kicking speed", 30, 0, 0, LS_SCOPE_FIXED},
    {"switch_ohm", "ohm", "stop switch in run", 1e8, 0, 0, LS_SCOPE_FIXED},
    {"consumer_ohm", "ohm", "consumer", 1000, 0.02, 0, LS_SCOPE_VEHICLE},
    {"need_volt", "volt", "the consumer works above this", 60, 0.05, 0, LS_SCOPE_VEHICLE},
};

static const ls_component_v1 components[] = {
    {"source", "source coil", "SRC", LS_COMPONENT_PART, 3, 0},
    {"stop_switch", "stop switch", "INH", LS_COMPONENT_PART, 2, 1},
#ifdef LIE_DUPLICATE_ID
    {"source", "consumer", "CTL", LS_COMPONENT_PART, 4, 0},
#else
    {"consumer", "consumer", "CTL", LS_COMPONENT_PART, 4, 0},
#endif
    {"lead", "high tension lead", "SEC", LS_COMPONENT_PART, 2, 0},
    {"rider", "switch left in stop", "INH", LS_COMPONENT_OPERATOR, 0, 0},
    {"fuel", "fuel system", "FUE", LS_COMPONENT_ELSEWHERE, 0, 0},
};

static const ls_terminal_v1 terminals[] = {
    {"source", "out", "", "output wire"},        {"source", "ground", "31", "earth wire"},
    {"stop_switch", "live", "2", "live terminal"}, {"stop_switch", "ground", "31", "earth terminal"},
    {"consumer", "in", "15", "input"},           {"consumer", "stop", "2", "stop input"},
    {"consumer", "ground", "31", "earth"},       {"consumer", "high", "4", "high tension"},
    {"lead", "coil_end", "4", "coil end"},
};

static const ls_element_v1 elements[] = {
    {"source_winding", "source.out", "source.ground", "source_ohm", "", "emf_volt", "frequency_hertz", "",
     LS_IN_OHM_TESTS | LS_IN_RUNNING},
    {"switch_contact", "stop_switch.live", "stop_switch.ground", "switch_ohm", "", "", "", "",
     LS_IN_OHM_TESTS | LS_IN_RUNNING},
    {"consumer_input", "consumer.in", "consumer.ground", "consumer_ohm", "", "", "", "", LS_IN_OHM_TESTS | LS_IN_RUNNING},
    {"stop_bridge", "consumer.in", "consumer.stop", "", "", "", "", "", LS_IN_OHM_TESTS | LS_IN_RUNNING},
};

static const ls_link_v1 links[] = {
#ifdef LIE_UNKNOWN_TERMINAL
    {"source_lead", "source lead", "source.out", "consumer.input", "energy", "CON", 30, 15, 10, 10, 1e4, 20, 0.2, 0},
#else
    {"source_lead", "source lead", "source.out", "consumer.in", "energy", "CON", 30, 15, 10, 10, 1e4, 20, 0.2, 0},
#endif
    {"stop_lead", "stop lead", "consumer.stop", "stop_switch.live", "inhibit", "INH", 0, 0, 27, 10, 1e4, 20, 0.2, 1},
    {"consumer_earth", "consumer earth", "consumer.ground", "earth", "earth", "CON", 26, 0, 0, 1, 100, 1, 1, 0},
    {"source_earth", "source earth", "source.ground", "earth", "earth", "CON", 5, 0, 0, 1, 100, 1, 1, 0},
    {"switch_earth", "switch earth", "stop_switch.ground", "earth", "earth", "CON", 0, 0, 0, 1, 100, 1, 1, 1},
    {"high_lead", "high tension joint", "consumer.high", "lead.coil_end", "high_tension", "SEC", 0, 0, 0, 1, 1, 1, 1, 0},
};

#define ALWAYS {1, 1, 1, 1, 1, 1}
static const ls_mode_v1 modes[] = {
#if defined(LIE_NAN_SHARE)
    {"open", "source", "open winding", "", "replace", NAN, ALWAYS, "the wire is broken"},
#elif defined(LIE_NEGATIVE_SHARE)
    {"open", "source", "open winding", "", "replace", -39, ALWAYS, "the wire is broken"},
#elif defined(LIE_VISIBILITY)
    {"open", "source", "open winding", "", "replace", 39, {1, 1, 1, 1, 1, 1.5}, "the wire is broken"},
#elif defined(LIE_NOT_UTF8)
    {"open", "source", "open \xff winding", "", "replace", 39, ALWAYS, "the wire is broken"},
#elif defined(LIE_NULL_TEXT)
    {"open", "source", NULL, "", "replace", 39, ALWAYS, "the wire is broken"},
#elif defined(LIE_ENDLESS_TEXT)
    {"open", "source", endless, "", "replace", 39, ALWAYS, "the wire is broken"},
#elif defined(LIE_UNKNOWN_REPAIR)
    {"open", "source", "open winding", "", "replaces", 39, ALWAYS, "the wire is broken"},
#else
    {"open", "source", "open winding", "", "replace", 39, ALWAYS, "the wire is broken"},
#endif
    {"shorted_turns", "source", "shorted turns", "", "replace", 29, {0.6, 0.9, 0.6, 0.6, 0.6, 0.6}, "varnish is burnt"},
    {"stuck", "stop_switch", "stuck to earth", "", "replace", 33, ALWAYS, "the contact is welded"},
    {"dead", "consumer", "dead", "", "replace", 51, ALWAYS, "nothing comes out"},
    {"left_in_stop", "rider", "left in stop", "", "set_right", 20, ALWAYS, "nobody looked"},
    {"empty", "fuel", "no fuel", "", "fill", 60, ALWAYS, "the tank is empty"},
};

static const ls_change_v1 changes[] = {
    {"source.open", "source_ohm", LS_SET, 1e9, 1e9},
    {"source.shorted_turns", "emf_volt", LS_SCALE, 0.8, 0.3},
    {"stop_switch.stuck", "switch_ohm", LS_SET, 5, 0.1},
#ifdef LIE_UNKNOWN_PARAMETER
    {"consumer.dead", "need_volts", LS_SCALE, 100, 100},
#else
    {"consumer.dead", "need_volt", LS_SCALE, 100, 100},
#endif
    {"rider.left_in_stop", "switch_ohm", LS_SET, 0.1, 0.1},
};

static const ls_repair_v1 repairs[] = {
    {"replace", "source", "replace the source coil", "replace", 40, 0.98, 3},
    {"replace", "stop_switch", "replace the stop switch", "replace", 15, 0.98, 2},
    {"replace", "consumer", "replace the consumer", "replace", 10, 0.98, 4},
    {"set_right", "rider", "set the switch to run", "adjust", 1, 1, 0},
    {"fill", "fuel", "fill the tank", "adjust", 5, 0.9, 0},
};

static const ls_condition_v1 conditions[] = {
    {"key_off", "state", "engine off", "", "stop the engine", 0, LS_NEEDS_ENGINE_OFF},
    {"cranking", "state", "cranking", "", "kick it over", 0.5, LS_NEEDS_CRANK},
    {"idling", "state", "idling", "", "let it idle", 2, LS_NEEDS_RUNNING},
    {"hot", "provocation", "hot", "hot", "warm it up", 15, LS_HOLDS_THROUGH_VISIT},
    {"wet", "provocation", "wet", "wet", "spray water", 3, LS_HOLDS_THROUGH_VISIT},
    {"shaken", "provocation", "shaken", "shaken", "wiggle the harness", 2, 0},
};

static const ls_setup_v1 setups[] = {
    {"stop_unplugged", "stop lead unplugged", "unplug the stop lead at the consumer", "", 1, 1},
    {"consumer_unplugged", "consumer unplugged", "unplug the consumer", "", 1, 1},
};

static const ls_effect_v1 effects[] = {
    {"setup:stop_unplugged", LS_OPEN_TERMINAL, "consumer.stop", "", 0},
    {"setup:consumer_unplugged", LS_OPEN_TERMINAL, "consumer.in", "", 0},
    {"setup:consumer_unplugged", LS_OPEN_TERMINAL, "consumer.ground", "", 0},
    {"condition:idling", LS_SCALE_PARAMETER, "emf_volt", "", 3},
};

static const ls_stage_v1 stages[] = {{"work", "does the consumer work", 0}};

static const ls_stage_input_v1 stage_inputs[] = {
#ifdef LIE_TERMINALS_FIRST
    {"work", LS_INPUT_TERMINAL, "consumer.in", ""},
    {"work", LS_INPUT_PARAMETER, "need_volt", ""},
    {"work", LS_INPUT_LINEAR_VOLTS, "consumer.in", "consumer.ground"},
#else
    {"work", LS_INPUT_PARAMETER, "need_volt", ""},
    {"work", LS_INPUT_LINEAR_VOLTS, "consumer.in", "consumer.ground"},
#endif
};

static const ls_stage_output_v1 stage_outputs[] = {
    {"work", "force", LS_OUTPUT_VALUE, "volt", "", "what arrives"},
    {"work", "works", LS_OUTPUT_MARGIN, "one", "", "have over need"},
};

static const ls_test_kind_v1 test_kinds[] = {
    {"input_peak", "input peak", LS_READS_HARNESS_VOLTS, "volt", "source_lead", "", "", "", "", "", "cranking",
     "|stop_unplugged", "peak_voltmeter", 0.1, 3, 0.03, "", "clip to the wire", "source or stop side", "open", "", "S01"},
    {"source_peak", "source peak", LS_READS_HARNESS_VOLTS, "volt", "source_lead", "", "", "", "", "", "cranking",
     "consumer_unplugged", "peak_voltmeter", 0.1, 3, 0.03, "", "clip to the wire", "source", "open", "", "S01"},
    {"earth_drop", "earth drop", LS_READS_HARNESS_DROP, "volt", "consumer_earth", "", "", "", "", "", "cranking", "",
     "peak_voltmeter", 0.15, 3, 0.03, "", "from tag to metal", "", "", "corroded earth", "S01"},
    {"source_ohm_test", "source resistance", LS_READS_OHMS, "ohm", "source.out", "source.ground", "", "", "", "", "key_off",
     "", "ohmmeter", 0.03, 3, 0.03, "", "both wires", "shorted turns", "short", "open", ""},
    {"stop_ohm_test", "stop lead resistance", LS_READS_OHMS, "ohm", "stop_switch.live", "earth", "", "", "", "", "key_off",
     "stop_unplugged", "ohmmeter", 0.05, 3, 0.03, "", "lead to metal", "damp", "earthed", "", ""},
    {"force_read", "force", LS_READS_OUTPUT, "volt", "work.force", "", "", "work.works", "", "", "cranking", "",
     "peak_voltmeter", 0.1, 2, 0.03, "consumer", "look", "", "", "", ""},
#ifdef LIE_UNKNOWN_CAUTION
    {"works", "does it work", LS_READS_MARGIN_WORD, "word", "work.works", "", "", "", "", "", "cranking", "", "eyes", 0.05,
     1, 0.03, "at the seat", "look", "", "", "", "S99"},
#else
    {"works", "does it work", LS_READS_MARGIN_WORD, "word", "work.works", "", "", "", "", "", "cranking", "", "eyes", 0.05,
     1, 0.03, "at the seat", "look", "", "", "", "S01"},
#endif
    {"runs", "does it run", LS_READS_MARGIN_WORD, "word", "work.works", "", "", "", "", "", "idling", "", "eyes", 0.05, 2,
     0.03, "lead", "listen", "", "", "", ""},
    {"state_walk", "state walk", LS_READS_FINDING, "word", "", "", "", "", "", "", "key_off", "", "eyes", 0, 1, 0.03,
     "at the seat", "look at every switch", "", "", "", ""},
    {"look", "look and tug", LS_READS_FINDING, "word", "components", "", "", "", "", "", "key_off", "", "eyes", 0, 2, 0.03,
     "", "pull gently", "", "", "", ""},
};

static const ls_finding_v1 findings[] = {
    {"state_walk", "rider.left_in_stop", "found", 0.97},
    {"look", "", "sound", 0.95},
    {"look", "*.corroded", "dirty", 0.5},
    {"look", "*.chafed", "bare wire", 0.7},
    {"look", "*.open", "loose", 0.6},
    {"look", "source.open", "broken", 0.2},
#ifdef LIE_PROBABILITY
    {"look", "stop_switch.stuck", "stuck", 1.2},
#else
    {"look", "stop_switch.stuck", "stuck", 0.4},
#endif
};

static const ls_caution_v1 cautions[] = {
    {"S01", "WARNING", "High voltage.", "Hands off.", 1},
};

static const ls_complaint_v1 complaints[] = {
    {"no_spark", "no spark", "work.works", "", "none", "FUE=0.1"},
#ifdef LIE_COMPLAINT_TABLE
    {"no_start", "no start", "", "", "", "SRC=6 CON=five"},
#else
    {"no_start", "no start", "", "", "", "SRC=6 CON=5 FUE=10"},
#endif
};

/* ------------------------------------------------------------------------------------------------ functions */

#define TABLE(t) {t, sizeof t[0], (int32_t)(sizeof t / sizeof t[0])}
static const struct {
  const void* rows;
  size_t row_size;
  int32_t count;
} tables[LS_TABLE_COUNT] = {
    TABLE(options),      TABLE(parameters),    TABLE(components), TABLE(terminals),  TABLE(elements),
    TABLE(links),        TABLE(modes),         TABLE(changes),    TABLE(repairs),    TABLE(conditions),
    TABLE(setups),       TABLE(effects),       TABLE(stages),     TABLE(stage_inputs), TABLE(stage_outputs),
    TABLE(test_kinds),    TABLE(findings),   TABLE(cautions),   TABLE(complaints)};

static int32_t option_count(void) { return (int32_t)(sizeof options / sizeof options[0]); }

static int32_t option(int32_t index, ls_option_v1* out) {
  if (index < 0 || index >= option_count()) return LS_FAILED;
  *out = options[index];
  return LS_OK;
}

static void say(ls_message* message, const char* text) {
  if (message && message->data && message->size) snprintf(message->data, message->size, "%s", text);
}

static ls_instance* create(const ls_setting* settings, int32_t count, ls_message* message) {
#ifdef LIE_ENDLESS_TEXT
  memset(endless, 'x', sizeof endless);
#endif
#ifdef LIE_REFUSES
  (void)settings;
  (void)count;
  say(message, "the moon is in the wrong quarter");
  return NULL;
#else
  ls_instance* instance = malloc(sizeof *instance);
  if (!instance) return NULL;
  instance->two_switches = 0;
  for (int32_t i = 0; i < count; ++i) {
    if (strcmp(settings[i].id, "lamp") == 0 && strcmp(settings[i].value, "true") && strcmp(settings[i].value, "false")) {
      say(message, "lamp must be true or false");
      free(instance);
      return NULL;
    }
    if (strcmp(settings[i].id, "switches") == 0) instance->two_switches = strcmp(settings[i].value, "2") == 0;
  }
  return instance;
#endif
}

static void destroy(ls_instance* instance) { free(instance); }

static int32_t count_of(const ls_instance* instance, int32_t table) {
  (void)instance;
  if (table < 0 || table >= LS_TABLE_COUNT) return 0;
#ifdef LIE_CHANGING_COUNT
  static int32_t calls;
  if (table == LS_COMPLAINTS) return tables[table].count - (calls++ % 2);
#endif
#ifdef LIE_NEGATIVE_COUNT
  if (table == LS_COMPLAINTS) return -3;
#endif
  return tables[table].count;
}

static int32_t row(const ls_instance* instance, int32_t table, int32_t index, void* out, ls_message* message) {
  (void)instance;
  if (table < 0 || table >= LS_TABLE_COUNT || index < 0 || index >= tables[table].count) {
    say(message, "no such row");
    return LS_FAILED;
  }
#ifdef LIE_FAILING_ROW
  if (table == LS_STAGES) {
    say(message, "out of ideas");
    return LS_FAILED;
  }
#endif
  memcpy(out, (const char*)tables[table].rows + (size_t)index * tables[table].row_size, tables[table].row_size);
  return LS_OK;
}

static int32_t evaluate(const ls_instance* instance, int32_t stage, int32_t n, const double* inputs, double* outputs,
                        ls_message* message) {
  (void)instance;
  if (stage != 0) {
    say(message, "no such stage");
    return LS_FAILED;
  }
#ifdef LIE_EVALUATE_FAILS
  say(message, "the consumer is on strike");
  return LS_FAILED;
#endif
  for (int32_t i = 0; i < n; ++i) {
#ifdef LIE_EVALUATE_LAZY
    if (i == n - 1) continue;
#endif
    const double need = inputs[2 * i], have = inputs[2 * i + 1];
    outputs[2 * i] = have;
    outputs[2 * i + 1] = log(have / need);
#ifdef LIE_EVALUATE_NAN
    outputs[2 * i + 1] = have > 100 ? NAN : outputs[2 * i + 1];
#endif
#ifdef LIE_EVALUATE_MOODY
    static int calls;
    outputs[2 * i] += 1e-3 * ++calls;
#endif
#ifdef LIE_EVALUATE_NEGATIVE
    outputs[2 * i] = -have;
#endif
  }
  return LS_OK;
}

static const ls_family_v1 family = {
#ifdef LIE_TRUNCATED_FAMILY
    (uint32_t)sizeof(ls_family_v1) - 16u,
#else
    (uint32_t)sizeof(ls_family_v1),
#endif
#ifdef LIE_BAD_ID
    "Toy Family",
#else
    "toy",
#endif
    "toy family",
    "for tests",
    option_count,
    option,
    create,
    destroy,
    count_of,
    row,
#ifdef LIE_NULL_FUNCTION
    NULL,
#else
    evaluate,
#endif
};

static const void* query(const char* interface_id) {
#ifdef LIE_NO_INTERFACE
  return strcmp(interface_id, "somebody.else/1") == 0 ? &family : NULL;
#else
  return strcmp(interface_id, LS_FAMILY_INTERFACE) == 0 ? &family : NULL;
#endif
}

/* LIE_NULL_FUNCTION leaves evaluate() without a user. */
int32_t (*const unused_by_some_lies)(const ls_instance*, int32_t, int32_t, const double*, double*, ls_message*) = evaluate;

LS_EXPORT extern const ls_entry_v1 ENTRY_NAME;
const ls_entry_v1 ENTRY_NAME = {
#ifdef LIE_OTHER_MAJOR
    LS_ABI_MAJOR + 7u,
#else
    LS_ABI_MAJOR,
#endif
    LS_ABI_MINOR,
#ifdef LIE_TRUNCATED_ENTRY
    (uint32_t)sizeof(ls_entry_v1) / 2u,
#else
    (uint32_t)sizeof(ls_entry_v1),
#endif
    "toy_plugin",
    "0.9.1",
    query,
};
