/* Compiled as C11 with -pedantic-errors: the header needs nothing before it, and a family can be written in C. */
#include "lostspark_plugin.h"

#if __STDC_VERSION__ < 201112L
#error "this file is to be compiled as C11"
#endif

uint32_t abi_size_in_c(int32_t what);

/* Sizes as C sees them; the test compares them with C++. */
uint32_t abi_size_in_c(int32_t what) {
  switch (what) {
    case 0: return (uint32_t)sizeof(ls_entry_v1);
    case 1: return (uint32_t)sizeof(ls_family_v1);
    case 2: return (uint32_t)sizeof(ls_parameter_v1);
    case 3: return (uint32_t)sizeof(ls_test_kind_v1);
    case 4: return (uint32_t)sizeof(ls_mode_v1);
    case 5: return (uint32_t)sizeof(ls_element_v1);
    case 6: return (uint32_t)sizeof(ls_link_v1);
    default: return 0;
  }
}
