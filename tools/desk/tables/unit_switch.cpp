#include "tools/desk/tables/unit_switch.h"

namespace desk {

UnitSwitch::UnitSwitch(DeskSession* session, QWidget* parent) : QComboBox(parent) {
  setObjectName(QStringLiteral("unit_switch"));
  setToolTip(tr("The unit of lengths in all views; fractions are to 1/64 inch"));
  setAccessibleName(tr("Unit of lengths"));
  using measure::TextUnit;
  for (const auto& [unit, word] : {std::pair(TextUnit::kMm, tr("mm")),
                                   {TextUnit::kCm, tr("cm")},
                                   {TextUnit::kM, tr("m")},
                                   {TextUnit::kInch, tr("in, decimals")},
                                   {TextUnit::kInchFraction, tr("in, fractions")},
                                   {TextUnit::kFootInch, tr("ft and in")}}) {
    addItem(word, static_cast<int>(unit));
  }
  const auto follow = [this, session] {
    setCurrentIndex(findData(static_cast<int>(session->unit())));
  };
  follow();
  connect(session, &DeskSession::unit_changed, this, follow);
  connect(this, &QComboBox::currentIndexChanged, this,
          [this, session] { session->set_unit(static_cast<TextUnit>(currentData().toInt())); });
}

}  // namespace desk
