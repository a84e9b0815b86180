#include "tools/desk/forms/scale_fields.h"

#include <QCoreApplication>
#include <QRegularExpression>

#include "tools/desk/fields/typed_value.h"

namespace desk {
namespace {

struct Words {
  Q_DECLARE_TR_FUNCTIONS(desk::ScaleFields)
};

TypedValue<std::optional<measure::ScaleRatio>> read_original(const QString& text) {
  if (text.isEmpty()) return std::optional<measure::ScaleRatio>();
  static const QRegularExpression sign(QStringLiteral("\\s*(±|\\+-|\\+/-)\\s*"));
  const QStringList parts = text.split(sign);
  auto ratio = typed_ratio(parts[0]);
  if (!ratio) return calib::Unexpected(ratio.error());
  if (parts.size() > 2) {
    return calib::Unexpected(Words::tr("Write one ratio and one u, like 1:48 ± 0.2."));
  }
  if (parts.size() == 2) {
    const auto u = typed_number(parts[1]);
    if (!u) return calib::Unexpected(u.error());
    if (*u < 0) return calib::Unexpected(Words::tr("An uncertainty is not negative."));
    ratio->u = *u;
  }
  return std::optional(*ratio);
}

}  // namespace

ScaleFields::ScaleFields(const QString& form_name) {
  original = new TypedField(
      form_name + QStringLiteral(".ratio"),
      Words::tr("Original to full size, if the original stands for something at a ratio; with u "
                "where the ratio itself is not exact"),
      [](const QString& text) -> calib::Result<QString, QString> {
        const auto ratio = read_original(text);
        if (!ratio) return calib::Unexpected(ratio.error());
        if (!*ratio) return QString();
        const QString reads = Words::tr("1 mm on the original is %1 mm at full size")
                                  .arg(number_text((**ratio).denominator));
        return (**ratio).u > 0 ? reads + Words::tr(" ± %1 (u)").arg(number_text((**ratio).u))
                               : reads;
      });
  original->edit()->setPlaceholderText(Words::tr("like 1:48; empty: none"));
  replicas = new TypedField(
      form_name + QStringLiteral(".replicas"),
      Words::tr("Ratios of the replicas to full size, with spaces between"),
      [ratio_field = original](const QString& text) -> calib::Result<QString, QString> {
        const auto ratios = typed_ratios(text);
        if (!ratios) return calib::Unexpected(ratios.error());
        if (!ratios->empty() && ratio_field->text().isEmpty()) {
          return calib::Unexpected(
              Words::tr("A replica's size follows from the original's: give its ratio, too."));
        }
        QStringList words;
        for (const measure::ScaleRatio& ratio : *ratios) words.push_back(ratio_text(ratio));
        return words.isEmpty() ? QString()
                               : Words::tr("replicas at %1").arg(words.join(QStringLiteral(", ")));
      });
  replicas->edit()->setPlaceholderText(Words::tr("like 1:72 1:24; empty: none"));
  QObject::connect(original, &TypedField::changed, replicas, &TypedField::judge_again);
}

measure::SetScales ScaleFields::scales() const {
  measure::SetScales scales;
  if (const auto ratio = read_original(original->text())) scales.model_scale = *ratio;
  if (const auto ratios = typed_ratios(replicas->text())) scales.replica_scales = *ratios;
  return scales;
}

void ScaleFields::set_scales(const std::optional<measure::ScaleRatio>& original_ratio,
                             const std::vector<measure::ScaleRatio>& replica_ratios) {
  QString text;
  if (original_ratio) {
    text = ratio_text(*original_ratio);
    if (original_ratio->u > 0) text += QStringLiteral(" ± ") + number_text(original_ratio->u);
  }
  original->set_text(text);
  QStringList words;
  for (const measure::ScaleRatio& ratio : replica_ratios) words.push_back(ratio_text(ratio));
  replicas->set_text(words.join(' '));
}

}  // namespace desk
