#ifndef LOSTSPARK_CATCH2_V3
#define CATCH_CONFIG_MAIN
#include <catch2/catch.hpp>
#endif
