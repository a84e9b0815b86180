#include "tools/desk/fields/typed_value.h"

#include <QCoreApplication>
#include <QLocale>
#include <QRegularExpression>
#include <algorithm>
#include <cassert>

#include "measure/edit/typed_quantity.h"

namespace desk {
namespace {

constexpr auto kSign = measure::DecimalSign::kPointOrComma;

struct Words {
  Q_DECLARE_TR_FUNCTIONS(desk::Typed)
};
std::string bytes(const QString& text) { return text.trimmed().toStdString(); }

}  // namespace

QString unit_word(measure::TextUnit unit) {
  switch (unit) {
    case measure::TextUnit::kMm:
      return QStringLiteral("mm");
    case measure::TextUnit::kCm:
      return QStringLiteral("cm");
    case measure::TextUnit::kM:
      return QStringLiteral("m");
    case measure::TextUnit::kInch:
    case measure::TextUnit::kInchFraction:
    case measure::TextUnit::kFootInch:
      return QStringLiteral("in");
  }
  return {};
}

TypedValue<double> typed_length_mm(const QString& text, measure::TextUnit fallback) {
  const auto length = measure::parse_length(bytes(text), kSign);
  if (length) return length->value();
  const auto in_unit = measure::parse_length(bytes(text + ' ' + unit_word(fallback)), kSign);
  if (in_unit) return in_unit->value();
  return calib::Unexpected(QString::fromStdString(length.error().sentence));
}

TypedValue<double> typed_number(const QString& text) {
  if (const auto number = measure::parse_number(bytes(text), kSign)) return *number;
  return calib::Unexpected(
      Words::tr("\"%1\" is no number: write it like 0.05 or 0,05, without a unit.")
          .arg(text.trimmed()));
}

TypedValue<measure::ScaleRatio> typed_ratio(const QString& text) {
  const QString ratio = text.contains(':') ? text : QStringLiteral("1:") + text.trimmed();
  const auto read = measure::parse_ratio(bytes(ratio), kSign);
  if (read) return *read;
  return calib::Unexpected(
      Words::tr("\"%1\" is no ratio: write it like 1:48.").arg(text.trimmed()));
}

TypedValue<std::vector<measure::ScaleRatio>> typed_ratios(const QString& text) {
  std::vector<measure::ScaleRatio> ratios;
  static const QRegularExpression between(QStringLiteral("[\\s;]+"));
  for (const QString& part : text.split(between, Qt::SkipEmptyParts)) {
    const auto ratio = typed_ratio(part);
    if (!ratio) return calib::Unexpected(ratio.error());
    if (std::any_of(ratios.begin(), ratios.end(), [&](const measure::ScaleRatio& other) {
          return other.denominator == ratio->denominator;
        })) {
      return calib::Unexpected(Words::tr("%1 is given twice: once is enough.").arg(part));
    }
    ratios.push_back(*ratio);
  }
  return ratios;
}

QString typed_text(double length_mm, measure::TextUnit unit) {
  const auto one_mm = typed_length_mm(QStringLiteral("1"), unit);
  assert(one_mm);
  return number_text(length_mm / *one_mm) + ' ' + unit_word(unit);
}

QString length_reading(double length_mm, measure::TextUnit unit) {
  const QString mm = QStringLiteral("= %1 mm").arg(number_text(length_mm));
  if (unit_word(unit) != QLatin1String("in")) return mm;
  return mm + QStringLiteral(" = %1 in").arg(number_text(length_mm / 25.4));
}

QString ratio_text(const measure::ScaleRatio& ratio) {
  return QStringLiteral("1:") + number_text(ratio.denominator);
}

QString number_text(double value) { return QLocale::c().toString(value, 'g', 8); }

}  // namespace desk
