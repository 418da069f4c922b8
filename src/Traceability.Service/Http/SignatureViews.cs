using Traceability.Contracts.Facts;
using Traceability.Contracts.Units;
using Traceability.Domain.Primitives;
using Traceability.Domain.ProductUnits;

namespace Traceability.Service.Http;

/// <summary>Turns signatures into what is answered.</summary>
internal static class SignatureViews
{
    /// <summary>The signatures under a unit's releases, oldest first.</summary>
    /// <param name="unit">The unit.</param>
    /// <param name="matches">Whether the stored facts still give a signature's hash; null where that was not looked at.</param>
    public static IEnumerable<SignatureView> Of(ProductUnit unit, Func<Signature, bool?> matches) =>
        from fact in unit.Effective
        let signature = (fact.Fact as Domain.ProductUnits.UnitReleased)?.Signature
        where signature is not null
        select Of(fact.Id, signature, fact.IsVoided, matches(signature));

    /// <summary>One signature.</summary>
    public static SignatureView Of(Guid record, Signature signature, bool isVoided, bool? matches) => new(
        record,
        signature.Person.Value,
        signature.PrintedName,
        signature.Meaning,
        signature.SignedAt,
        isVoided,
        [.. signature.Units.Select(u => new SignedUnitView(Reference(u.Unit), u.Version))],
        signature.JudgementHash,
        signature.RecordHash,
        matches);

    private static UnitRef Reference(UnitKey key) => new() { Item = key.Item.Value, Serial = key.Serial.Value };
}
