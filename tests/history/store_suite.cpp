// The same suite on both stores, against a plain map.
#include <functional>
#include <memory>

#include "catch_all.hpp"
#include "history_support.hpp"

using namespace lostspark;
using namespace lostspark::history;
using namespace lostspark::history::testing;

namespace {

/// One store and how it is left and opened again; `other` is a second terminal on the same jobs.
struct Subject {
  explicit Subject(bool on_disk) : disk(on_disk) { reopen(); }
  void reopen() {
    if (!disk) {
      if (!memory) memory = open_memory();
      return;
    }
    file_store.reset();
    second.reset();
    file_store = open_sqlite(folder.file("jobs.sqlite3"));
    second = open_sqlite(folder.file("jobs.sqlite3"));
  }
  Store& store() { return disk ? *file_store : *memory; }
  Store& other() { return disk ? *second : *memory; }

  ScratchFolder folder;
  bool disk;
  std::unique_ptr<Store> memory, file_store, second;
};

/// The reference: what a store must answer, kept in a map.
struct Model {
  struct Job {
    JobHeader header;
    std::vector<LogEntry> log;
    JobState state = JobState::open;
  };
  std::map<std::string, Job> jobs;  // fewer than 10,000: the order of the names is the order of opening

  [[nodiscard]] Contents contents() const {
    Contents all;
    for (const auto& [id, job] : jobs) {
      all.headers[id] = job.header;
      all.logs[id] = job.log;
      JobSummary summary{job.header, job.state, static_cast<std::int64_t>(job.log.size()),
                         job.log.empty() ? job.header.opened_at : job.log.back().at};
      summary.header.network_text = summary.header.workshop_json = "";
      all.summaries.push_back(summary);
    }
    return all;
  }
};

class Dice {
 public:
  explicit Dice(std::uint64_t seed) : random_(seed) {}
  std::size_t below(std::size_t limit) { return std::uniform_int_distribution<std::size_t>(0, limit - 1)(random_); }
  /// Text with all that a careless store trips over: quotes, line ends, zero bytes, several bytes a letter, nothing.
  std::string text() {
    static const std::vector<std::string> pieces{"a",
                                                 "'",
                                                 "\"",
                                                 "\n",
                                                 "\\",
                                                 ";--",
                                                 "\xc3\xa9",
                                                 "\xe2\x84\xa6",
                                                 "%",
                                                 " ",
                                                 "?1",
                                                 std::string(1, '\0'),
                                                 "{\"volt\":0.4}"};
    std::string out;
    for (std::size_t n = below(8); n > 0; --n) out += pieces[below(pieces.size())];
    if (below(20) == 0) out.append(below(30000), 'x');
    return out;
  }
  JobState state() { return static_cast<JobState>(below(4)); }

 private:
  std::mt19937_64 random_;
};

std::string any_job(const Model& model, Dice& dice) {
  return std::next(model.jobs.begin(), static_cast<std::ptrdiff_t>(dice.below(model.jobs.size())))->first;
}

void random_operation(Subject& subject, Model& model, Dice& dice) {
  Store& writer = dice.below(2) == 0 ? subject.store() : subject.other();
  const std::size_t choice = model.jobs.empty() ? 0 : dice.below(12);
  if (choice == 0) {
    JobHeader header{dice.text(), dice.text(), dice.text(), dice.text(), dice.text(), dice.text(), dice.text()};
    const std::string id = writer.create_job(header);
    REQUIRE(model.jobs.count(id) == 0);
    header.id = id;
    model.jobs[id] = {header, {}, JobState::open};
  } else if (choice <= 8) {
    const std::string id = any_job(model, dice);
    Model::Job& job = model.jobs[id];
    std::vector<LogEntry> entries;
    for (std::size_t n = dice.below(4); n > 0; --n)
      entries.push_back({static_cast<std::int64_t>(dice.below(99)), dice.text(), dice.text(), dice.text()});
    const auto last = static_cast<std::int64_t>(job.log.size());
    const JobState state = dice.state();
    if (choice == 8) {  // somebody who has read an older or an impossible state of the log
      const auto wrong = static_cast<std::int64_t>(dice.below(job.log.size() + 3));
      if (wrong == last) return;
      REQUIRE_THROWS_AS(writer.append(id, wrong, entries, state), ConflictError);
      return;
    }
    writer.append(id, last, entries, state);
    for (LogEntry& entry : entries) {
      entry.sequence = static_cast<std::int64_t>(job.log.size()) + 1;
      job.log.push_back(entry);
    }
    job.state = state;
  } else if (choice == 9) {
    subject.reopen();
  } else if (choice == 10) {
    REQUIRE_THROWS_AS(writer.append("J9999", 0, {}, JobState::open), StoreError);
    REQUIRE_FALSE(writer.header("J9999"));
    REQUIRE(writer.log("J9999").empty());
  } else {
    const std::string id = any_job(model, dice);
    REQUIRE(writer.log(id) == model.jobs[id].log);
    REQUIRE(writer.header(id) == model.jobs[id].header);
  }
}

}  // namespace

TEST_CASE("a store answers like a plain map after any operations and reopenings", "[history][property]") {
  const bool on_disk = GENERATE(false, true);
  const std::uint64_t seed = test_seed(on_disk ? "random operations, file" : "random operations, memory");
  CAPTURE(on_disk, seed);
  Dice dice(seed);
  Subject subject(on_disk);
  Model model;
  for (int step = 0; step < 600; ++step) {
    CAPTURE(step);
    random_operation(subject, model, dice);
    if (step % 50 == 49) REQUIRE(contents_of(subject.store()) == model.contents());
  }
  subject.reopen();
  REQUIRE(contents_of(subject.store()) == model.contents());
  REQUIRE(contents_of(subject.other()) == model.contents());
}

TEST_CASE("jobs are numbered from J0001 and begin open with an empty log", "[history][unit]") {
  const bool on_disk = GENERATE(false, true);
  CAPTURE(on_disk);
  Subject subject(on_disk);
  REQUIRE(subject.store().jobs().empty());
  REQUIRE(subject.store().create_job(example_header()) == "J0001");
  REQUIRE(subject.other().create_job(example_header()) == "J0002");
  const std::vector<JobSummary> jobs = subject.store().jobs();
  REQUIRE(jobs.size() == 2);
  CHECK(jobs[0].state == JobState::open);
  CHECK(jobs[0].entries == 0);
  CHECK(jobs[0].changed_at == example_header().opened_at);
  CHECK(jobs[0].header.network_text.empty());
  CHECK(subject.store().header("J0001")->network_text == example_header().network_text);
  CHECK(subject.store().log("J0001").empty());
}

TEST_CASE("the second of two terminals that read the same log is told to read again, and nothing of it is saved",
          "[history][unit]") {
  const bool on_disk = GENERATE(false, true);
  CAPTURE(on_disk);
  Subject subject(on_disk);
  const std::string job = subject.store().create_job(example_header());
  subject.store().append(job, 0, example_entries(job, 1, 2), JobState::open);
  subject.store().append(job, 2, example_entries(job, 3, 1), JobState::waiting_for_part);
  const Contents before = contents_of(subject.store());
  const std::string message =
      store_error_of([&] { subject.other().append(job, 2, example_entries("other", 3, 2), JobState::closed); });
  CHECK(
      message ==
      "job J0001 has 3 entries where 2 were expected: another terminal has written to it, nothing was saved; read the "
      "job again and repeat the step if it is still wanted");
  CHECK_THROWS_AS(subject.other().append(job, 4, {}, JobState::closed), ConflictError);
  CHECK(contents_of(subject.store()) == before);
}

TEST_CASE("an append without entries changes the state alone", "[history][unit]") {
  const bool on_disk = GENERATE(false, true);
  CAPTURE(on_disk);
  Subject subject(on_disk);
  const std::string job = subject.store().create_job(example_header());
  for (const JobState state :
       {JobState::waiting_for_part, JobState::waiting_for_customer, JobState::closed, JobState::open}) {
    subject.store().append(job, 0, {}, state);
    CHECK(subject.other().jobs().at(0).state == state);
  }
  CHECK(subject.other().log(job).empty());
}

TEST_CASE("an append to a job that does not exist names the job and where it was sought", "[history][unit]") {
  const bool on_disk = GENERATE(false, true);
  CAPTURE(on_disk);
  Subject subject(on_disk);
  const std::string where = on_disk ? subject.folder.file("jobs.sqlite3") : "memory";
  CHECK(store_error_of([&] { subject.store().append("J0042", 0, {}, JobState::open); }) ==
        "there is no job J0042 in " + where + "; list the jobs to see which there are");
}

TEST_CASE("job numbers above 9999 grow by a digit and keep their order", "[history][unit]") {
  ScratchFolder folder;
  static_cast<void>(open_sqlite(folder.file("jobs.sqlite3")));
  const RawDatabase raw(folder.file("jobs.sqlite3"));
  REQUIRE(raw.run("INSERT INTO jobs VALUES (9999, 'J9999', '', '', '', '', '', '', 'open')") == "");
  const auto store = open_sqlite(folder.file("jobs.sqlite3"));
  CHECK(store->create_job(example_header()) == "J10000");
  CHECK(store->create_job(example_header()) == "J10001");
  const std::vector<JobSummary> jobs = store->jobs();
  REQUIRE(jobs.size() == 3);
  CHECK(jobs[0].header.id == "J9999");
  CHECK(jobs[1].header.id == "J10000");
}
