// data: check, back up, export and import the store; customers.
#include <CLI/CLI.hpp>
#include <filesystem>
#include <fstream>
#include <memory>
#include <ostream>

#include "base/error.hpp"
#include "faces/cli/json_out.hpp"
#include "faces/cli/session.hpp"
#include "faces/cli/text.hpp"
#include "history/knowledge.hpp"
#include "history/shared.hpp"
#include "job/archive.hpp"

namespace lostspark::faces {

namespace {

Json rows_json(const job::RowCounts& rows) {
  Json out = Json::object();
  for (const auto& [table, n] : rows) out[table] = n;
  return out;
}

std::string rows_text(const job::RowCounts& rows) {
  Table table;
  for (const auto& [name, n] : rows) table.row({name, std::to_string(n)});
  return table.text();
}

void check(Context& context) {
  Session session(context);
  const auto found = job::check_store(session.desk().store().knowledge());
  if (!found.problems.empty()) context.exit_code = 3;
  if (context.json) {
    print_json(context, {{"sound", found.problems.empty()},
                         {"schema", found.schema},
                         {"rows", rows_json(found.rows)},
                         {"problems", found.problems}});
    return;
  }
  for (const auto& p : found.problems) context.out << wrapped(p, 2);
  context.out << (found.problems.empty() ? "The store is sound" : "The store has problems") << " (schema "
              << found.schema << ").\n"
              << rows_text(found.rows);
}

void backup(Context& context, const std::string& file) {
  Session session(context);
  job::backup(session.desk().store().knowledge(), file);
  if (context.json)
    print_json(context, {{"file", file}, {"bytes", std::filesystem::file_size(file)}});
  else
    context.out << "Copied to " << file << ".\n";
}

void export_to(Context& context, const std::string& path, bool csv, bool customers) {
  Session session(context);
  const auto& knowledge = session.desk().store().knowledge();
  const auto who = customers ? job::Customers::taken_along : job::Customers::left_out;
  job::RowCounts rows;
  if (csv) {
    rows = job::export_csv(knowledge, path, who);
  } else {
    if (std::filesystem::exists(path)) throw InputError(path + ": is there already; name a file that is not");
    std::ofstream out(path, std::ios::binary);
    if (!out) throw InputError(path + ": cannot be written; name a file in a folder that takes it");
    try {
      rows = job::export_lines(knowledge, out, who);
    } catch (...) {
      // Half an export must not be taken for a whole one, nor stand in the way of the next try.
      std::error_code ignored;
      std::filesystem::remove(path, ignored);
      throw;
    }
  }
  if (context.json)
    print_json(context, {{"path", path}, {"customers", customers}, {"rows", rows_json(rows)}});
  else
    context.out << "Written to " << path << (customers ? ", customers included" : ", without customers") << ".\n"
                << rows_text(rows);
}

void import_from(Context& context, const std::string& path) {
  Session session(context);
  const auto& knowledge = session.desk().store().knowledge();
  job::RowCounts rows;
  if (std::filesystem::is_directory(path)) {
    rows = job::import_csv(knowledge, path);
  } else {
    std::ifstream in(path, std::ios::binary);
    if (!in) throw InputError(path + ": cannot be read; name an exported file or folder");
    rows = job::import_lines(knowledge, in, path);
  }
  if (context.json)
    print_json(context, {{"path", path}, {"rows", rows_json(rows)}});
  else
    context.out << "Read from " << path << ".\n" << rows_text(rows);
}

void forget(Context& context, const std::string& id) {
  Session session(context);
  static_cast<void>(session.desk().load(id));  // an unknown job is told as such
  const bool was = session.desk().store().knowledge().delete_customer(id);
  if (context.json)
    print_json(context, {{"job", id}, {"forgotten", was}});
  else
    context.out << (was ? "Name and registration of job " + id + " are deleted.\n"
                        : "Job " + id + " has no name or registration.\n");
}

struct CustomerRequest {
  std::string name, registration;
  bool name_given = false, registration_given = false;
};

void show_customer(Context& context, const std::string& id, const CustomerRequest& said) {
  Session session(context);
  static_cast<void>(session.desk().load(id));
  if (said.name_given || said.registration_given) {
    auto& knowledge = session.desk().store().knowledge();
    auto now = knowledge.customer(id).value_or(history::Customer{id, "", "", ""});
    if (said.name_given) now.name = said.name;
    if (said.registration_given) now.registration = said.registration;
    now.noted_at = session.desk().now();
    knowledge.put_customer(now);
  }
  const auto customer = session.desk().store().knowledge().customer(id);
  if (context.json)
    print_json(
        context,
        {{"job", id},
         {"customer", customer ? Json{{"name", customer->name}, {"registration", customer->registration}} : Json()}});
  else if (customer)
    context.out << labelled("name", customer->name) << labelled("number", customer->registration);
  else
    context.out << "Job " << id << " has no name or registration.\n";
}

void show_shared(Context& context, bool again) {
  Session session(context);
  auto* shared = session.desk().store().shared();
  if (shared == nullptr)
    throw InputError(
        "this store shares nothing; name the database with --store postgresql://HOST/DATABASE or LOSTSPARK_STORE");
  if (again) shared->send_all_again();
  const auto shops = shared->shops();  // sends what waits first
  if (context.json) {
    Json rows = Json::array();
    for (const auto& s : shops) rows.push_back({{"shop", s.shop}, {"jobs", s.jobs}, {"cases", s.cases}});
    print_json(context,
               {{"shop", shared->shop()}, {"where", shared->where()}, {"waiting", shared->waiting()}, {"shops", rows}});
    return;
  }
  context.out << labelled("shop", shared->shop()) << labelled("shared in", shared->where())
              << labelled("waiting", counted(static_cast<std::size_t>(shared->waiting()), "change"));
  Table table;
  table.row({"shop", "jobs", "closed and learned from"});
  for (const auto& s : shops) table.row({s.shop, std::to_string(s.jobs), std::to_string(s.cases)});
  context.out << table.text();
}

}  // namespace

void add_data_commands(CLI::App& app, Context& context) {
  CLI::App* group = app.add_subcommand("data", "check, back up, export and import what the shop keeps");
  group->require_subcommand(1);
  struct Request {
    std::string path, job;
    bool csv = false, customers = false, again = false;
  };
  const auto r = std::make_shared<Request>();
  const auto command = [&](const char* name, const char* about) {
    CLI::App* c = group->add_subcommand(name, about);
    add_json_option(*c, context);
    add_store_option(*c, context);
    return c;
  };
  CLI::App* c = command("check", "every page, log, case and set of the store; exit code 3 when something is wrong");
  c->callback([&context] { check(context); });
  c = command("backup", "a copy of the store, safe while others write");
  c->add_option("file", r->path, "new file")->required()->type_name("FILE");
  c->callback([&context, r] { backup(context, r->path); });
  c = command("export", "the whole store as JSON lines, or as CSV files in a folder");
  c->add_option("path", r->path, "new file; with --csv a folder")->required()->type_name("PATH");
  c->add_flag("--csv", r->csv, "one CSV file a table");
  c->add_flag("--with-customers", r->customers, "names and registration numbers too");
  c->callback([&context, r] { export_to(context, r->path, r->csv, r->customers); });
  c = command("import", "an export into an empty store");
  c->add_option("path", r->path, "file of JSON lines, or folder of CSV files")->required()->type_name("PATH");
  c->callback([&context, r] { import_from(context, r->path); });
  c = command("customer",
              "name and registration number of a job, kept apart from it; with an option: note or correct them");
  c->add_option("job", r->job, "id of the job")->required()->type_name("JOB");
  const auto said = std::make_shared<CustomerRequest>();
  CLI::Option* name = c->add_option("--customer", said->name, "name of the customer")->type_name("NAME");
  CLI::Option* number = c->add_option("--registration", said->registration, "registration number")->type_name("TEXT");
  c->callback([&context, r, said, name, number] {
    said->name_given = name->count() > 0;
    said->registration_given = number->count() > 0;
    show_customer(context, r->job, *said);
  });
  c = command("forget", "delete name and registration number of a job");
  c->add_option("job", r->job, "id of the job")->required()->type_name("JOB");
  c->callback([&context, r] { forget(context, r->job); });
  c = command("shared", "what this shop and the others have sent to the shared history");
  c->add_flag("--resend", r->again, "send everything again, after the server was set back to an old backup");
  c->callback([&context, r] { show_shared(context, r->again); });
  group->footer(
      "Examples:\n"
      "  lostspark data check\n"
      "  lostspark data backup monday.sqlite3\n"
      "  lostspark data export all.jsonl\n"
      "  lostspark data import all.jsonl --store new.sqlite3\n");
}

}  // namespace lostspark::faces
