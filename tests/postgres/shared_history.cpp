// Several shops, one PostgreSQL server: what is shared, what stays at home, and what a lost connection does.
#include "history/shared.hpp"

#include <catch_all.hpp>
#include <set>

#include "history/history_support.hpp"
#include "history/shared_tables.hpp"
#include "history/sqlite_handle.hpp"
#include "test_server.hpp"

using namespace lostspark;
using namespace lostspark::history;
using namespace lostspark::history::testing;

namespace {

SharedOptions as_shop(const std::string& shop, bool customers = false) { return {shop, customers, 0}; }

Case closed(const std::string& job, const std::string& pattern, const std::string& vehicle = "bike") {
  Case c;
  c.job = job;
  c.family = "ac_cdi";
  c.vehicle = vehicle;
  c.pattern = pattern;
  c.confirmed = "seen";
  c.for_nothing = "coil";
  c.closed_at = "2026-02-01T11:00:00Z";
  return c;
}

std::vector<std::string> patterns(const CaseSource& cases) {
  std::vector<std::string> out;
  cases.each_pattern([&](const PatternCount& p) {
    out.push_back(p.family + " " + p.vehicle + " " + p.pattern + " " + std::to_string(p.jobs));
  });
  return out;
}

/// All rows of a table on the server as text, keys first.
std::vector<Server::Row> there(Server& server, const std::string& table, const std::string& shop) {
  return server.rows("SELECT t::text FROM " + table + " t WHERE shop = $1 ORDER BY 1", {shop});
}

/// The log of every job of a shop as the server has it, in the form of contents_of().
std::map<std::string, std::vector<LogEntry>> logs_there(Server& server, const std::string& shop) {
  std::map<std::string, std::vector<LogEntry>> out;
  for (const auto& r : server.rows("SELECT id FROM jobs WHERE shop = $1", {shop})) out[r[0]];
  for (const auto& r :
       server.rows("SELECT job, sequence, kind, body, at FROM entries WHERE shop = $1 ORDER BY job, sequence", {shop}))
    out[r[0]].push_back({std::stoll(r[1]), r[2], r[3], r[4]});
  return out;
}

/// Bodies as example_entry() writes them hold no words of a customer, so they arrive unchanged.
void work_a_day(Store& store, int jobs) {
  for (int j = 0; j < jobs; ++j) {
    const std::string job = store.create_job(example_header());
    store.append(job, 0, example_entries(job, 1, 3), JobState::waiting_for_part);
    store.append(job, 3, example_entries(job, 4, 4), JobState::closed);
    store.knowledge().put_case(closed(job, "a:0"), {{"bike", "ac_cdi", "a", 1.0 / 3}});
  }
}

}  // namespace

TEST_CASE("the shared tables are those of the shop's file, column by column", "[postgres][unit]") {
  const ScratchFolder folder;
  const auto store = open_sqlite(folder.file("jobs.sqlite3"));
  const auto& local = store->knowledge().connection();
  for (const auto& table : shared_tables()) {
    CAPTURE(table.name);
    std::set<std::string> described, stands;
    for (const auto& c : table.columns) described.insert(std::string(c.name) + (c.key ? " key" : ""));
    Statement columns(local, "SELECT name, pk FROM pragma_table_info('" + std::string(table.name) + "')", "read");
    Statement::Run run(columns, "read");
    while (run.row()) {
      // Jobs are known by their id; the shop's own rows have no shop.
      const bool key = table.name == "jobs" ? run.text(0) == "id" : run.number(1) > 0;
      if (run.text(0) != "shop") stands.insert(run.text(0) + (key ? " key" : ""));
    }
    CHECK(described == stands);
  }
}

TEST_CASE("each row knows its shop; a shop sees what all have learned and its own", "[postgres][unit]") {
  const std::string database = TestServer::shared().new_database();
  const ScratchFolder folder;
  const auto north = open_shared(database, folder.file("north.sqlite3"), as_shop("north"));
  const auto south = open_shared(database, folder.file("south.sqlite3"), as_shop("south"));
  work_a_day(*north, 2);
  work_a_day(*south, 1);
  south->knowledge().put_case(closed("J0009", "b:3", "quad"), {{"bike", "ac_cdi", "a", 0.5}, {"quad", "x", "b", 0.25}});
  south->knowledge().add_exposure({"", "bike", "ac_cdi", 0.1, "2026-02-01T11:00:00Z", "said Mr Quennelworth"});

  CHECK(south->jobs().size() == 1);  // jobs stay each shop's own
  CHECK(patterns(south->knowledge()) == std::vector<std::string>{"ac_cdi bike a:0 1", "ac_cdi quad b:3 1"});
  south->shared()->send();
  CHECK(patterns(*north->shared()) == std::vector<std::string>{"ac_cdi bike a:0 3", "ac_cdi quad b:3 1"});
  CHECK(patterns(*south->shared()) == patterns(*north->shared()));
  CHECK(north->shared()->case_summary().cases == 4);
  CHECK(north->shared()->case_summary().confirmed == 4);
  using Counts = std::vector<std::pair<std::string, std::int64_t>>;
  CHECK(north->shared()->replaced_for_nothing("bike") == Counts{{"coil", 3}});
  CHECK(north->shared()->replaced_for_nothing("") == Counts{{"coil", 4}});
  // Another shop's edition of a network file does not change ours; numbers arrive to the last digit.
  const auto odds = north->shared()->class_odds();
  REQUIRE(odds.size() == 2);
  CHECK(odds[0].odds == 1.0 / 3);
  CHECK(odds[1].name == "b");
  REQUIRE(north->shared()->exposures().size() == 1);
  CHECK(north->shared()->exposures()[0].shop == "south");
  CHECK(north->shared()->exposures()[0].hours == 0.1);
  CHECK(north->shared()->exposures()[0].note.empty());
  const auto shops = north->shared()->shops();
  REQUIRE(shops.size() == 2);
  CHECK((shops[0].shop == "north" && shops[0].jobs == 2 && shops[0].cases == 2));
  CHECK((shops[1].shop == "south" && shops[1].jobs == 1 && shops[1].cases == 2));

  // A case that is derived again, or dropped, is so on the server too.
  south->knowledge().drop_case("", "J0009");
  north->knowledge().link_comeback("", "J0002", "J0001", "2026-03-01T00:00:00Z");
  CHECK(north->shared()->case_summary().superseded == 1);
  CHECK(south->shared()->case_summary().cases == 3);
  CHECK(patterns(*south->shared()) == std::vector<std::string>{"ac_cdi bike a:0 2"});
}

TEST_CASE("the server dies in mid-job: the job goes on, and is sent later, once", "[postgres][fault]") {
  auto& server = TestServer::shared();
  const std::string database = server.new_database();
  const ScratchFolder folder;
  const auto store = open_shared(database, folder.file("jobs.sqlite3"), as_shop("north"));
  const std::string job = store->create_job(example_header());
  store->append(job, 0, example_entries(job, 1, 3), JobState::open);
  CHECK(store->shared()->waiting() == 0);
  server.kill_now();
  store->append(job, 3, example_entries(job, 4, 2), JobState::open);
  const std::string second = store->create_job(example_header("quillmarsh_twin"));
  CHECK(store->log(job).size() == 5);
  CHECK(store->shared()->waiting() == 4);  // two entries, the state of the job, and a new job
  CHECK(store->shared()->trouble().find("cannot reach the shared history") == 0);
  CHECK(store_error_of([&] { static_cast<void>(patterns(*store->shared())); }).find("--own") != std::string::npos);
  server.start();
  store->append(job, 5, example_entries(job, 6, 1), JobState::closed);
  CHECK(store->shared()->waiting() == 0);
  CHECK(store->shared()->trouble().empty());
  const auto by_hand = TestServer::by_hand(database);
  CHECK(logs_there(*by_hand, "north") == contents_of(*store).logs);
  CHECK(by_hand->first("SELECT state FROM jobs WHERE id = $1", {job}) == "closed");
  // Everything once more, as after a confirmation that got lost: the same rows, none twice.
  const auto before = there(*by_hand, "entries", "north");
  CHECK(before.size() == 6);
  store->shared()->send_all_again();
  CHECK(store->shared()->waiting() > 0);
  store->shared()->send();
  CHECK(store->shared()->waiting() == 0);
  CHECK(there(*by_hand, "entries", "north") == before);
}

TEST_CASE("shops and terminals that write and die at random moments leave each row once", "[postgres][fault]") {
  const std::uint64_t seed = test_seed("shared history, killed writers");
  std::mt19937_64 random(seed);
  static_cast<void>(TestServer::shared());
  const std::string database = TestServer::shared().new_database();
  const ScratchFolder folder;
  // Two shops, two terminals each, killed and started over.
  const auto writer = [&](const std::string& shop) {
    return std::make_unique<Child>([&, shop](const Child::Say& say) {
      const auto store = open_shared(database, folder.file(shop + ".sqlite3"), as_shop(shop));
      for (int j = 0; j < 500; ++j) {
        work_a_day(*store, 1);
        say("a job");
      }
    });
  };
  for (int round = 0; round < 4; ++round) {
    std::vector<std::unique_ptr<Child>> writers;
    for (const char* shop : {"north", "south", "north", "south"}) writers.push_back(writer(shop));
    for (auto& w : writers) {
      const std::string first = w->next_line();
      INFO(first);
      CHECK(first == "a job");
    }
    for (auto& w : writers) {
      usleep(static_cast<useconds_t>(random() % 40000));
      w->kill_now();
      static_cast<void>(w->wait());
    }
  }
  const auto by_hand = TestServer::by_hand(database);
  for (const std::string shop : {"north", "south"}) {
    const auto store = open_shared(database, folder.file(shop + ".sqlite3"), as_shop(shop));
    store->shared()->send();
    CHECK(store->shared()->trouble().empty());
    CHECK(store->shared()->waiting() == 0);
    const auto logs = contents_of(*store).logs;
    CHECK(logs.size() >= 8);
    CHECK(logs_there(*by_hand, shop) == logs);
    CHECK(there(*by_hand, "cases", shop).size() == store->knowledge().cases().size());
  }
}

TEST_CASE("names, registrations and words of customers stay in the shop unless it shares them", "[postgres][unit]") {
  const std::string database = TestServer::shared().new_database();
  const ScratchFolder folder;
  const std::string path = folder.file("jobs.sqlite3");
  const auto everything = [&](Server& server) {
    std::string all;
    for (const auto& table : shared_tables())
      for (const auto& r : there(server, std::string(table.name), "north")) all += r[0] + "\n";
    return all;
  };
  std::string job;
  {
    const auto store = open_shared(database, path, as_shop("north"));
    job = store->create_job(example_header());
    store->append(job, 0,
                  {{0, "intake", R"({"words":"Ottilie says it died","complaints":["no_spark"]})", "now"},
                   {0, "note", R"({"text":"call Ottilie"})", "now"},
                   {0, "reading", R"({"text":"kept"})", "now"}},
                  JobState::open);
    store->knowledge().put_customer({job, "Ottilie Quennelworth", "QM 77 XYZZY", "now"});
    store->shared()->send();
    CHECK(store->shared()->waiting() == 0);
    const auto sent = everything(*TestServer::by_hand(database));
    CHECK(sent.find("Ottilie") == std::string::npos);
    CHECK(sent.find("XYZZY") == std::string::npos);
    CHECK(sent.find("no_spark") != std::string::npos);
    CHECK(sent.find("kept") != std::string::npos);
    CHECK(store->log(job)[0].body.find("Ottilie") != std::string::npos);  // at home it stands
  }
  {
    const auto store = open_shared(database, path, as_shop("", true));
    store->shared()->send();
    CHECK(everything(*TestServer::by_hand(database)).find("QM 77 XYZZY") != std::string::npos);
    CHECK(store->knowledge().delete_customer(job));
    store->shared()->send();
    CHECK(everything(*TestServer::by_hand(database)).find("XYZZY") == std::string::npos);
    store->knowledge().put_customer({job, "Ottilie Quennelworth", "QM 77 XYZZY", "now"});
    store->shared()->send();
    CHECK(everything(*TestServer::by_hand(database)).find("XYZZY") != std::string::npos);
  }
  const auto store = open_shared(database, path, as_shop("north"));  // the switch turned back
  store->shared()->send();
  CHECK(everything(*TestServer::by_hand(database)).find("XYZZY") == std::string::npos);
}

TEST_CASE("what stood in the file before it was shared is sent; another database gets it all", "[postgres][unit]") {
  const ScratchFolder folder;
  const std::string path = folder.file("jobs.sqlite3");
  work_a_day(*open_sqlite(path), 3);
  CHECK(RawDatabase(path).first("SELECT count(*) FROM outbox") == "0");  // nothing is noted where nothing is shared
  for (int i = 0; i < 2; ++i) {
    const std::string database = TestServer::shared().new_database();
    const auto store = open_shared(database, path, as_shop("north"));
    CHECK(store->shared()->shops().at(0).cases == 3);
    CHECK(logs_there(*TestServer::by_hand(database), "north") == contents_of(*store).logs);
  }
}

TEST_CASE("bytes that PostgreSQL cannot keep do not block what follows", "[postgres][fault]") {
  const std::string database = TestServer::shared().new_database();
  const ScratchFolder folder;
  const auto store = open_shared(database, folder.file("jobs.sqlite3"), as_shop("north"));
  const std::string job = store->create_job(example_header());
  store->append(
      job, 0,
      {{0, "reading", std::string("a\0b", 3), "now"}, {0, "reading", "\xC3(", "now"}, {0, "reading", "good", "now"}},
      JobState::open);
  CHECK(store->shared()->trouble().empty());
  const auto logs = logs_there(*TestServer::by_hand(database), "north");
  REQUIRE(logs.at(job).size() == 3);
  CHECK(logs.at(job)[0].body == "hex:610062");
  CHECK(logs.at(job)[1].body == "hex:c328");
  CHECK(logs.at(job)[2].body == "good");
}

TEST_CASE("what cannot be shared is said, and the job goes on", "[postgres][fault]") {
  const std::string database = TestServer::shared().new_database();
  const ScratchFolder folder;
  CHECK(store_error_of([&] { static_cast<void>(open_shared(database, folder.file("a.sqlite3"), as_shop(""))); }) ==
        "a shared history needs the name of this shop; set LOSTSPARK_SHOP once, the store keeps it");
  CHECK(store_error_of([&] {
          static_cast<void>(open_shared(database, folder.file("a.sqlite3"), as_shop("a b")));
        }).find("'a b' is no name for a shop") == 0);
  const auto store = open_shared(database, folder.file("a.sqlite3"), as_shop("north"));
  work_a_day(*store, 1);
  CHECK(store_error_of([&] {
          static_cast<void>(open_shared(database, folder.file("a.sqlite3"), as_shop("south")));
        }).find("is shared as shop 'north', not as 'south'") != std::string::npos);

  const auto other = open_shared(database, folder.file("b.sqlite3"), as_shop("north"));
  work_a_day(*other, 1);
  CHECK(other->log("J0001").size() == 7);
  CHECK(other->shared()->trouble().find("another job store shares there as shop 'north' already") != std::string::npos);
  CHECK(other->shared()->trouble().find("password") == std::string::npos);
  const auto by_hand = TestServer::by_hand(database);
  CHECK(there(*by_hand, "jobs", "north").size() == 1);

  CHECK(store_error_of([&] {
          by_hand->execute("UPDATE entries SET body = ''");
        }).find("an entry is never changed or deleted") != std::string::npos);
  CHECK(store_error_of([&] { by_hand->execute("DELETE FROM entries"); }).find("never changed") != std::string::npos);
  by_hand->execute("UPDATE about SET version = 99");
  const auto third = open_shared(database, folder.file("c.sqlite3"), as_shop("west"));
  CHECK(store_error_of([&] { static_cast<void>(third->shared()->shops()); }).find("schema version 99") !=
        std::string::npos);
}
