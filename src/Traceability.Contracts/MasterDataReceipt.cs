namespace Traceability.Contracts;

/// <summary>The answer to a file of master data.</summary>
/// <param name="IsDryRun">Whether it was a dry run, which records nothing.</param>
/// <param name="Facts">How many facts the file makes.</param>
/// <param name="Recorded">How many were recorded by this request.</param>
/// <param name="Repeats">How many had been recorded before, with the same content.</param>
public sealed record MasterDataReceipt(bool IsDryRun, int Facts, int Recorded, int Repeats);
