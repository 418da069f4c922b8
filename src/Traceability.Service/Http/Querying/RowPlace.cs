using System.Buffers.Text;
using System.Globalization;
using System.Text;
using Traceability.Domain.Primitives;

namespace Traceability.Service.Http.Querying;

/// <summary>Where a page ended: the last row's place in the order by time, unit and row.</summary>
/// <remarks>A place, not a count: rows that come or go elsewhere move nothing. Clients treat its text as opaque.</remarks>
internal sealed record RowPlace(DateTimeOffset At, string Unit, long RowId)
{
    /// <summary>What a text of another form is told.</summary>
    public const string Form = "Give what the page before said as \"after\".";

    /// <summary>Reads the text, or gives null.</summary>
    public static RowPlace? Parse(string text)
    {
        if (!Base64Url.IsValid(text)
            || Encoding.UTF8.GetString(Base64Url.DecodeFromChars(text)).Split(' ') is not [var at, var row, var unit]
            || !long.TryParse(at, NumberStyles.None, CultureInfo.InvariantCulture, out var ticks) || ticks > DateTimeOffset.MaxValue.UtcTicks
            || !long.TryParse(row, NumberStyles.AllowLeadingSign, CultureInfo.InvariantCulture, out var rowId)
            || unit.Split('/') is not [var item, var serial] || !Codes.TryParse<ItemNumber>(item, out _) || !Codes.TryParse<SerialNumber>(serial, out _))
        {
            return null;
        }

        return new(new(ticks, TimeSpan.Zero), unit, rowId);
    }

    /// <inheritdoc />
    public override string ToString() =>
        Base64Url.EncodeToString(Encoding.UTF8.GetBytes(string.Create(CultureInfo.InvariantCulture, $"{At.UtcTicks} {RowId} {Unit}")));
}
