#include "tools/desk/forms/uncertain_field.h"

#include <QRegularExpression>

#include "tools/desk/fields/typed_value.h"

namespace desk {
namespace {

using Read = calib::Result<std::optional<measure::Uncertain>, QString>;

/// "21,5 ± 0,5", "21.5 +- 0.5".
Read read(const QString& text, double factor) {
  if (text.isEmpty()) return std::optional<measure::Uncertain>();
  static const QRegularExpression sign(QStringLiteral("\\s*(±|\\+-|\\+/-)\\s*"));
  const QStringList parts = text.split(sign);
  if (parts.size() != 2) {
    return calib::Unexpected(
        UncertainField::tr("A value without its uncertainty is a guess: write it like 21.5 ± 0.5, "
                           "u standard (+- will do)."));
  }
  const auto value = typed_number(parts[0]), u = typed_number(parts[1]);
  if (!value) return calib::Unexpected(value.error());
  if (!u) return calib::Unexpected(u.error());
  if (*u < 0) return calib::Unexpected(UncertainField::tr("An uncertainty is not negative."));
  return std::optional(measure::Uncertain{*value * factor, *u * factor});
}

}  // namespace

UncertainField::UncertainField(const QString& object_name, const QString& tip, const QString& unit,
                               double factor, QWidget* parent)
    : TypedField(
          object_name, tip,
          [unit, factor](const QString& text) -> calib::Result<QString, QString> {
            const auto value = read(text, factor);
            if (!value) return calib::Unexpected(value.error());
            if (!*value) return QString();
            return tr("= %1 %3, standard uncertainty %2 %3")
                .arg(number_text((**value).value / factor), number_text((**value).u / factor),
                     unit);
          },
          parent),
      factor_(factor) {
  edit()->setPlaceholderText(tr("value ± u, %1; empty: not known").arg(unit));
}

std::optional<measure::Uncertain> UncertainField::value() const {
  const auto value = read(text(), factor_);
  return value ? *value : std::nullopt;
}

void UncertainField::set_value(const std::optional<measure::Uncertain>& value) {
  set_text(value ? QStringLiteral("%1 ± %2").arg(number_text(value->value / factor_),
                                                 number_text(value->u / factor_))
                 : QString());
}

}  // namespace desk
