// The one place that knows which Catch2 is there: 2.13 (Debian 12) or 3.
#pragma once
#ifdef LOSTSPARK_CATCH2_V3
#include <catch2/catch_all.hpp>
using Catch::Approx;
#else
#include <catch2/catch.hpp>
#endif

/// Under a sanitizer a case that only repeats itself over many drawn jobs takes fewer: there the memory is looked at.
#if defined(__SANITIZE_ADDRESS__) || defined(__SANITIZE_THREAD__)
inline constexpr bool k_sanitized = true;
#else
inline constexpr bool k_sanitized = false;
#endif
