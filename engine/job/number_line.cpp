#include "job/number_line.hpp"

#include <array>
#include <charconv>
#include <cmath>
#include <utility>

#include "base/error.hpp"
#include "job/words.hpp"

namespace lostspark::job {
namespace {

struct Token {
  enum class Kind { number, word, to, minus, slash, plus, more, less, about, comma } kind = Kind::word;
  double value = 0;
  std::string text;
};

bool is_digit(char c) { return c >= '0' && c <= '9'; }

/// What other keyboards send for the signs used here.
std::string plain_signs(std::string_view text) {
  constexpr std::array<std::pair<std::string_view, std::string_view>, 13> table{{{"\u2126", "ohm"},
                                                                                 {"\u03a9", "ohm"},
                                                                                 {"\u2248", "~"},
                                                                                 {"\u2265", ">"},
                                                                                 {"\u2264", "<"},
                                                                                 {"\u2212", "-"},
                                                                                 {"\u2013", "-"},
                                                                                 {"\u2014", "-"},
                                                                                 {"\u2026", ".."},
                                                                                 {"\u00a0", " "},
                                                                                 {"\u202f", " "},
                                                                                 {">=", ">"},
                                                                                 {"<=", "<"}}};
  std::string out;
  for (std::size_t i = 0; i < text.size();) {
    bool found = false;
    for (const auto& [from, to] : table)
      if (text.substr(i).starts_with(from)) {
        out += to;
        i += from.size();
        found = true;
        break;
      }
    if (!found) out += text[i++];
  }
  return out;
}

class Lexer {
 public:
  explicit Lexer(std::string text) : text_(std::move(text)) {}

  std::vector<Token> tokens() {
    std::vector<Token> out;
    while (at_ < text_.size()) {
      const char c = text_[at_];
      if (c == ' ' || c == '\t' || c == ';') {
        ++at_;
      } else if (is_digit(c) || ((c == '.' || c == ',') && is_digit(peek(1)))) {
        out.push_back(number());
      } else if (c == '.' && peek(1) == '.') {
        while (at_ < text_.size() && text_[at_] == '.') ++at_;
        out.push_back({Token::Kind::to, 0, ".."});
      } else if (const auto kind = sign(c)) {
        out.push_back({*kind, 0, std::string(1, c)});
        ++at_;
      } else {
        out.push_back(word());
      }
    }
    return out;
  }

 private:
  [[nodiscard]] char peek(std::size_t ahead) const { return at_ + ahead < text_.size() ? text_[at_ + ahead] : '\0'; }

  static const Token::Kind* sign(char c) {
    using Kind = Token::Kind;
    static constexpr std::array<std::pair<char, Kind>, 8> table{{{'-', Kind::minus},
                                                                 {'/', Kind::slash},
                                                                 {'+', Kind::plus},
                                                                 {'>', Kind::more},
                                                                 {'<', Kind::less},
                                                                 {'~', Kind::about},
                                                                 {'*', Kind::about},
                                                                 {',', Kind::comma}}};
    for (const auto& [sign, kind] : table)
      if (sign == c) return &kind;
    return nullptr;
  }

  Token number() {
    std::string digits;
    bool point = false;
    for (; at_ < text_.size(); ++at_) {
      const char c = text_[at_];
      if (is_digit(c)) {
        digits += c;
      } else if ((c == '.' && peek(1) != '.') || (c == ',' && is_digit(peek(1)))) {
        if (point)
          throw InputError("two decimal signs in one number ('" + text_ +
                           "'); write 0.17 or 0,17, and put a blank or / between kicks");
        point = true;
        digits += '.';
      } else {
        break;
      }
    }
    // 2e3, but not "2 extra": an exponent has digits.
    if ((peek(0) == 'e' || peek(0) == 'E') &&
        (is_digit(peek(1)) || ((peek(1) == '-' || peek(1) == '+') && is_digit(peek(2))))) {
      digits += 'e';
      ++at_;
      if (peek(0) == '+') ++at_;
      if (peek(0) == '-') digits += text_[at_++];
      while (is_digit(peek(0))) digits += text_[at_++];
    }
    if (digits.starts_with('.')) digits.insert(0, 1, '0');
    double value = 0;
    const auto result = std::from_chars(digits.data(), digits.data() + digits.size(), value);
    if (result.ec != std::errc{} || !std::isfinite(value))
      throw InputError("'" + digits.substr(0, 40) + "' is too large or too small for a number");
    return {Token::Kind::number, value, digits};
  }

  Token word() {
    const std::size_t first = at_;
    while (at_ < text_.size() && !is_digit(text_[at_]) &&
           std::string_view(" \t;,+-/<>~*").find(text_[at_]) == std::string_view::npos &&
           !(text_[at_] == '.' && peek(1) == '.'))
      ++at_;
    std::string text = text_.substr(first, at_ - first);
    while (!text.empty() && text.back() == '.') text.pop_back();  // "approx."
    return {Token::Kind::word, 0, text};
  }

  std::string text_;
  std::size_t at_ = 0;
};

bool one_of(std::string_view list, std::string_view wanted) {
  return !wanted.empty() && (" " + std::string(list) + " ").find(" " + std::string(wanted) + " ") != std::string::npos;
}

/// Takes what stands before or behind the numbers off the tokens and says what it means.
Said qualifier(std::vector<Token>& tokens) {
  using Kind = Token::Kind;
  Said said = Said::plain;
  const auto say = [&](Said now) {
    if (said != Said::plain && said != now)
      throw InputError("only one of about, jumping, more than, less than can be said");
    said = now;
  };
  std::size_t first = 0;
  for (; first < tokens.size() && tokens[first].kind != Kind::number; ++first) {
    const Token& t = tokens[first];
    const std::string low = lowered(t.text);
    if (t.kind == Kind::minus)
      throw InputError(
          "a reading cannot be negative: swap the leads or the polarity setting and type the number without "
          "its sign; less than 5 is typed <5 or 5-");
    if (t.kind == Kind::about || one_of("about approx approximately around roughly circa ca", low))
      say(Said::about);
    else if (t.kind == Kind::more || one_of("over above more", low))
      say(Said::more_than);
    else if (t.kind == Kind::less || one_of("below under less", low))
      say(Said::less_than);
    else if (one_of("jumping jumps jumpy varying varies wandering wanders", low))
      say(Said::jumping);
    else if (t.kind != Kind::plus && !one_of("than between from", low))
      throw InputError("'" + t.text + "' is not understood");
  }
  tokens.erase(tokens.begin(), tokens.begin() + static_cast<std::ptrdiff_t>(first));
  if (!tokens.empty() && tokens.back().kind == Kind::plus) {
    say(Said::more_than);
    tokens.pop_back();
  } else if (!tokens.empty() && tokens.back().kind == Kind::minus) {
    say(Said::less_than);
    tokens.pop_back();
  } else if (!tokens.empty() && one_of("jumping jumpy varying", lowered(tokens.back().text))) {
    say(Said::jumping);
    tokens.pop_back();
  }
  return said;
}

bool joins(const Token& t) {
  return t.kind == Token::Kind::to || t.kind == Token::Kind::minus ||
         (t.kind == Token::Kind::word && one_of("to and till", lowered(t.text)));
}

}  // namespace

NumberLine parse_number_line(std::string_view text) {
  using Kind = Token::Kind;
  auto tokens = Lexer(plain_signs(text)).tokens();
  NumberLine line;
  line.said = qualifier(tokens);
  bool joined_now = false;  // a joining sign stands before the next number
  bool separated = false;   // a slash or comma does
  for (const Token& t : tokens) {
    if (t.kind == Kind::number) {
      if (joined_now) line.interval = true;
      joined_now = separated = false;
      line.numbers.push_back({t.value, ""});
    } else if (joins(t) && !line.numbers.empty() && !joined_now && !separated) {
      joined_now = true;
    } else if ((t.kind == Kind::slash || t.kind == Kind::comma) && !line.numbers.empty() && !joined_now && !separated) {
      separated = true;
    } else if (t.kind == Kind::word && !line.numbers.empty() && !joined_now && !separated &&
               (line.numbers.back().unit.empty() || one_of("peak pk dc ac", lowered(t.text)))) {
      if (!one_of("peak pk dc ac", lowered(t.text))) line.numbers.back().unit = t.text;
    } else {
      throw InputError("'" + t.text + "' is not understood");
    }
  }
  if (line.numbers.empty()) throw InputError("there is no number in it");
  if (joined_now || separated) throw InputError("a number is missing at the end");
  if (line.interval && line.numbers.size() != 2) throw InputError("an interval has two numbers, as in 150..200");
  if (line.numbers.size() > 20) throw InputError("more than 20 numbers: give the highest few kicks");
  if (line.said == Said::jumping && line.numbers.size() == 2) line.interval = true;
  if (line.said == Said::jumping && line.numbers.size() != 2)
    throw InputError("jumping needs the lowest and the highest value, as in jumping 0..190");
  if ((line.said == Said::more_than || line.said == Said::less_than) && line.numbers.size() != 1)
    throw InputError("more than and less than need one number");
  return line;
}

}  // namespace lostspark::job
