var app = WebApplication.CreateSlimBuilder(args).Build();
await app.RunAsync();
