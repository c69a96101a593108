// The one place that knows which Catch2 is there: 2.13 (Debian 12) or 3.
#pragma once
#ifdef LOSTSPARK_CATCH2_V3
#include <catch2/catch_all.hpp>
using Catch::Approx;
#else
#include <catch2/catch.hpp>
#endif
