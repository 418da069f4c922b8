using System.Buffers.Text;
using System.Globalization;
using System.Text;
using Traceability.Domain.Primitives;

namespace Traceability.Service.Features.Dispersion;

/// <summary>Where a page of lots ended: the last lot's place in the order by finished units, item and lot.</summary>
/// <remarks>A place, not a count: rows that come or go elsewhere move nothing. Clients treat its text as opaque.</remarks>
internal sealed record LotPlace(int Finished, string Item, string Lot)
{
    /// <summary>What a text of another form is told.</summary>
    public const string Form = "Give what the page before said as \"after\".";

    /// <summary>Reads the text, or gives null.</summary>
    public static LotPlace? Parse(string text) =>
        Base64Url.IsValid(text)
        && Encoding.UTF8.GetString(Base64Url.DecodeFromChars(text)).Split(' ') is [var finished, var name]
        && int.TryParse(finished, NumberStyles.None, CultureInfo.InvariantCulture, out var count)
        && name.Split('/') is [var item, var lot] && Codes.TryParse<ItemNumber>(item, out _) && Codes.TryParse<LotNumber>(lot, out _)
            ? new(count, item, lot)
            : null;

    /// <inheritdoc />
    public override string ToString() =>
        Base64Url.EncodeToString(Encoding.UTF8.GetBytes(string.Create(CultureInfo.InvariantCulture, $"{Finished} {Item}/{Lot}")));
}
