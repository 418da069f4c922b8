using Traceability.Domain.Facts;
using Traceability.Domain.Primitives;

namespace Traceability.Domain.Lots;

/// <summary>A lot that material was taken out of.</summary>
/// <param name="Lot">The lot.</param>
/// <param name="Quantity">How much; null: nobody said.</param>
/// <param name="Container">The container that it was taken out of; null: any.</param>
public sealed record LotSource(LotKey Lot, EnteredQuantity? Quantity, ContainerNumber? Container);

/// <summary>A fact that tells which lots the material of a lot came from. It is kept with the lot that received it.</summary>
public interface ILotInflow : ILotFact
{
    /// <summary>Where it came from.</summary>
    ImmutableArray<LotSource> Sources { get; }
}

/// <summary>A new lot was made of a part of another one. It is in the state of the other one at that time.</summary>
/// <param name="Lot">The new lot.</param>
/// <param name="Source">What it was taken out of.</param>
/// <param name="Stations">Where it could be used; empty: at every station.</param>
public sealed record LotSplit(LotKey Lot, LotSource Source, ImmutableArray<StationCode> Stations) : Fact, ILotInflow
{
    /// <inheritdoc />
    [System.Text.Json.Serialization.JsonIgnore]
    public ImmutableArray<LotSource> Sources => Source is null ? [] : [Source];
}

/// <summary>Material of other lots was put into this one, which may be new by that.</summary>
/// <param name="Lot">The lot that it was put into.</param>
/// <param name="Sources">What it was taken out of.</param>
/// <param name="Stations">Where it could be used; empty: where the lot could be before, or at every station.</param>
public sealed record LotMerged(LotKey Lot, ImmutableArray<LotSource> Sources, ImmutableArray<StationCode> Stations) : Fact, ILotInflow;

/// <summary>Material of other items was mixed into a new lot. Every draw of it holds material of each part.</summary>
/// <param name="Lot">The new lot: of the item of the mix.</param>
/// <param name="Parts">What it was mixed of.</param>
/// <param name="Stations">Where it could be used; empty: at every station.</param>
public sealed record LotMixed(LotKey Lot, ImmutableArray<LotSource> Parts, ImmutableArray<StationCode> Stations) : Fact, ILotInflow
{
    /// <inheritdoc />
    [System.Text.Json.Serialization.JsonIgnore]
    public ImmutableArray<LotSource> Sources => Parts;
}

/// <summary>The lot was inspected on receipt, or again.</summary>
/// <param name="Lot">The lot.</param>
/// <param name="Accepted">Whether it was accepted.</param>
/// <param name="SampleCount">How many pieces were looked at; null: nobody said.</param>
/// <param name="Results">What was looked at, and how that came out.</param>
/// <param name="Certificate">The supplier's or the laboratory's certificate, by reference.</param>
/// <param name="Note">Free text.</param>
public sealed record LotInspected(
    LotKey Lot, bool Accepted, int? SampleCount, ImmutableArray<LotInspectionResult> Results, string? Certificate, string? Note) : Fact, ILotFact;

/// <summary>One thing that was looked at when a lot was inspected.</summary>
/// <param name="Characteristic">What.</param>
/// <param name="Passed">Whether it was as required.</param>
/// <param name="Value">The value, where one was measured.</param>
public sealed record LotInspectionResult(Code Characteristic, bool Passed, EnteredQuantity? Value);

/// <summary>The lot may be used until another time, by evidence. It counts from when it happened on, and for no use before.</summary>
/// <param name="Lot">The lot.</param>
/// <param name="ExpiresAt">The new end of shelf life.</param>
/// <param name="Evidence">What shows it, by reference: a test report, the maker's letter.</param>
/// <param name="AuthorisedBy">Who authorised it.</param>
public sealed record LotRecertified(LotKey Lot, DateTimeOffset ExpiresAt, string Evidence, PersonCode AuthorisedBy) : Fact, ILotFact;

/// <summary>Somebody counted, weighed or measured how much is there.</summary>
/// <param name="Lot">The lot.</param>
/// <param name="Container">The container that was counted; null: the whole lot.</param>
/// <param name="Quantity">How much is there.</param>
/// <param name="Gain">What is booked in with this count, because where it came from is known; null: nothing.</param>
/// <param name="Loss">What is booked out with this count, because where it went is known; null: nothing.</param>
/// <param name="Reason">Why it was booked.</param>
public sealed record StockCounted(
    LotKey Lot, ContainerNumber? Container, EnteredQuantity Quantity, EnteredQuantity? Gain, EnteredQuantity? Loss, string? Reason) : Fact, ILotFact;
