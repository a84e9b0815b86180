// Colours and signs by meaning, the same in every view.
//
// Colours: M. Okabe & K. Ito, Color Universal Design (2008): told apart by people with any common
// kind of colour vision. No meaning rests on colour alone: every state has a sign of its own.
#pragma once

#include <QColor>
#include <QPainter>
#include <QPalette>

namespace desk {

enum class MarkState { kByHand, kRefined, kImported, kDoubted, kSetAside, kPredicted };

/// The word for a person, translated.
[[nodiscard]] QString word_of(MarkState state);

[[nodiscard]] QColor colour_of(MarkState state);

/// Of what stands in space and is drawn into photos.
inline const QColor kDimensionColour(0xF0, 0xE4, 0x42);  // yellow
inline const QColor kEpipolarColour(0x56, 0xB4, 0xE9);   // sky blue
inline const QColor kShapeColour(0xFF, 0xFF, 0xFF);      // white
inline const QColor kBarColour(0xCC, 0x79, 0xA7);        // reddish purple
inline const QColor kWeakColour(0xD5, 0x5E, 0x00);       // vermillion
inline const QColor kGoodColour(0x00, 0x9E, 0x73);       // bluish green

/// Draws a mark's sign about a place, in the painter's own units. A dark rim keeps it readable on
/// any photograph.
/// @param radius  of the sign; the middle stays free so that the place itself can be seen.
void draw_mark(QPainter& painter, const QPointF& at, MarkState state, double radius, bool chosen);

/// Text with a dark rim, readable on any photograph.
void draw_label(QPainter& painter, const QPointF& at, const QString& text,
                const QColor& colour = Qt::white);

/// The two palettes; the desk starts with the one nearer to the system's.
[[nodiscard]] QPalette light_palette();
[[nodiscard]] QPalette dark_palette();

}  // namespace desk
