// The job on paper: what was complained of, found and done, the proof, all values, time and parts.
#pragma once

#include <string>
#include <vector>

#include "job/job.hpp"

namespace lostspark::job {

struct SheetValue {
  std::int64_t sequence = 0;
  std::string test_id, title, value, instrument, state, at;
  bool struck = false;  ///< kept on paper, crossed out
};

struct SheetPart {
  std::string title, state;  ///< fitted, tried, returned, no_part
  double price = 0, labour_min = 0;
};

struct Sheet {
  std::string workshop, job, vehicle, opened_at, state;
  std::vector<std::string> intake;  ///< first, as answered
  std::string complaint, cause, correction;
  std::string proof_test, proof_before, proof_after;  ///< the same reading before and after; empty: none was taken
  std::string check;                                  ///< functional check, last result
  std::vector<SheetValue> values;
  double minutes = 0, labour_money = 0, parts_money = 0;
  std::vector<SheetPart> parts;
  std::vector<std::string> stops;  ///< "kill switch: recorded as working"
  std::vector<std::string> notes, cautions;
  std::string deference;
};

[[nodiscard]] Sheet make_sheet(const Job&);
/// Plain text, at most 80 columns.
[[nodiscard]] std::string render(const Sheet&);

}  // namespace lostspark::job
