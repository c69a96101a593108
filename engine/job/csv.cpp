#include "job/csv.hpp"

#include "base/error.hpp"

namespace lostspark::job {

std::string csv_line(const std::vector<std::string>& fields) {
  std::string out;
  for (std::size_t i = 0; i < fields.size(); ++i) {
    if (i > 0) out += ',';
    if (fields[i].find_first_of(",;\"\r\n") == std::string::npos) {
      out += fields[i];
      continue;
    }
    out += '"';
    for (const char c : fields[i]) out += c == '"' ? std::string("\"\"") : std::string(1, c);
    out += '"';
  }
  return out + "\n";
}

std::vector<std::vector<std::string>> read_csv(std::string_view text, const std::string& file) {
  if (text.starts_with("\xEF\xBB\xBF")) text.remove_prefix(3);  // the mark some spreadsheets put before UTF-8
  const auto first = text.substr(0, text.find('\n'));
  const char comma = first.find(',') == std::string_view::npos && first.find(';') != std::string_view::npos ? ';' : ',';
  std::vector<std::vector<std::string>> rows;
  std::vector<std::string> row;
  std::string field;
  bool quoted = false, any = false;
  std::size_t line = 1, opened = 0;
  const auto end_row = [&] {
    row.push_back(std::move(field));
    field.clear();
    if (any) rows.push_back(std::move(row));
    row.clear();
    any = false;
  };
  for (std::size_t i = 0; i < text.size(); ++i) {
    const char c = text[i];
    if (c == '\n') ++line;
    if (quoted) {
      if (c != '"') {
        field += c;
      } else if (i + 1 < text.size() && text[i + 1] == '"') {
        field += '"';
        ++i;
      } else {
        quoted = false;
      }
    } else if (c == '"' && field.empty()) {
      quoted = any = true;
      opened = line;
    } else if (c == comma) {
      row.push_back(std::move(field));
      field.clear();
      any = true;
    } else if (c == '\n') {
      end_row();
    } else if (c != '\r') {
      field += c;
      any = true;
    }
  }
  if (quoted)
    throw InputError(file + ", line " + std::to_string(opened) + ": a quote that begins here never ends; close it");
  if (any) end_row();
  return rows;
}

}  // namespace lostspark::job
